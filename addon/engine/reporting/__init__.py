"""The deliverables: the plan for the bench, and the report."""
