## Kalkulationen
