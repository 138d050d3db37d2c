"""The test command of one mutant: ask the warm process, and exit as it answers."""

import socket
import sys

with socket.socket(socket.AF_UNIX) as warm:
    warm.connect(sys.argv[1])
    sys.exit(warm.recv(1) != b"\0")
