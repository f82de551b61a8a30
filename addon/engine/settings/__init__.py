"""The job's settings with their units and limits, and the tables behind them."""
