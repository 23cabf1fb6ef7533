"""The pages beside the plan: how sure, what helps, standing still, season, my box."""
