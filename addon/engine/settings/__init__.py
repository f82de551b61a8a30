"""What is wanted: the job's sections with their units and limits, and the tables behind them."""
