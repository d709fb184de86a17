"""Questions of the test bench: logs, coils, meters, resistance, health."""
