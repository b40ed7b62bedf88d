"""The one write path: every change is one function here, and every one runs inside `entry`."""
