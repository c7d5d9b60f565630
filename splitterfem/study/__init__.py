"""Many models: sweeps, searches, scatter, flex-test fits."""
