"""What a page says, wherever its template breaks a line."""


def one_line(response) -> str:
    return " ".join(response.content.decode().split())
