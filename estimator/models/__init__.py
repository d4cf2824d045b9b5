"""The nouns that flow through the pipeline: frozen, validated.

In: facts of a job, or what a stage found.
Out: the same facts under one name and in SI, with sums and shares of their own fields at most.
May not know: any stage, any table of a standard, any sheet or file.
"""
