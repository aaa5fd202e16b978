## Estimates
