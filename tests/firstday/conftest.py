from tests.mailbox import free_port, mailbox  # noqa: F401 (fixtures)
