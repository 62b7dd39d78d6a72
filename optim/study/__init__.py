"""The study: its file, its checks, its design space, and the judging of evaluations."""
