"""A worked example of an adapter: the adapter, the controller it is for, and its conformance test."""
