"""The nouns that flow through the pipeline: frozen, validated, without arithmetic."""
