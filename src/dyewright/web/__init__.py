"""The pages: thin routes over the services."""
