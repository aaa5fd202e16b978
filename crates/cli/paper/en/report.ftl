## The report of a nest
