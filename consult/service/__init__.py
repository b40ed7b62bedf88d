"""What runs, serves and watches the processes: nothing of the consult itself."""
