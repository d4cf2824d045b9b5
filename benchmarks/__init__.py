"""What is measured: see benchmarks/README.md. Nothing here passes or fails by the clock."""
