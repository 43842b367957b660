"""The toolpath room."""
