"""What is handed over: the plan for the bench, and the report."""
