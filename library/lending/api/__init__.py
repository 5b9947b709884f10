"""The desk over the API: one module for each resource; each action calls one service."""
