from tests.mailbox import free_port, mailbox

__all__ = ["free_port", "mailbox"]
