"""Mail on the console, as a person reads it: the default until a mail server is set."""

from __future__ import annotations

from django.core.mail.backends.console import EmailBackend

SHOWN = 5


class ConsoleMail(EmailBackend):
    """Whom, what about and the text; of reminders a line each, and only the first few.

    A library that is started after a long pause may have a hundred to send, and they would
    push what matters off the screen.
    """

    reminders = 0

    def write_message(self, message) -> None:
        line = f"[mail] to {', '.join(message.to)}: {message.subject}\n"
        if "List-Unsubscribe" in message.extra_headers:
            self._write_reminder(line)
            return
        text = "".join(f"    {part}\n" for part in message.body.splitlines())
        self.stream.write(line + text)

    def _write_reminder(self, line: str) -> None:
        ConsoleMail.reminders += 1
        if ConsoleMail.reminders <= SHOWN:
            self.stream.write(line)
        elif ConsoleMail.reminders == SHOWN + 1:
            self.stream.write("[mail] … and more reminders, not shown here from now on.\n")
