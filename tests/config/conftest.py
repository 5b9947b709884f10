from tests.mailbox import free_port

__all__ = ["free_port"]
