"""What does each cell carry, and is that within its rating?"""
