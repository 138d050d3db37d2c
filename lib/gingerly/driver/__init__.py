"""The only place that awaits: carries the cycle's commands to an adapter, under deadlines, and its replies back."""
