"""A practice controller: the virtual machine's physics in real time, behind a line of bytes.

It reads RS274/NGC by itself and speaks any wire profile by itself. It shares no parser with the adapter, so
that each is checked by the other. What it writes into its truth log is what truly happened.
"""
