"""The window: shows states and announces wishes; every number comes from the rooms below."""
