"""Mail on the console, as a person reads it: the default until a mail server is set."""

from __future__ import annotations

from django.core.mail.backends.console import EmailBackend


class ConsoleMail(EmailBackend):
    """Whom, what about and the text; of mails to many (reminders) one line each."""

    def write_message(self, message) -> None:
        to = ", ".join(message.to)
        self.stream.write(f"[mail] to {to}: {message.subject}\n")
        if "List-Unsubscribe" not in message.extra_headers:
            text = "".join(f"    {line}\n" for line in message.body.splitlines())
            self.stream.write(text)
