"""What is measured: see docs/performance.md. Nothing here passes or fails by the clock."""
