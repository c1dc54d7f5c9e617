"""What is worked out from a judged plan for the hill."""
