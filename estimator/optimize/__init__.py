"""Machine classes and crews chosen over the whole job.

In: the job with its estimate.
Out: the choice that costs least and the estimate it is kept by, or why there is none.
May not know: the pipeline that calls it; it is handed what makes an estimate.
"""
