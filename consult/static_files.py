"""Style sheets, scripts and images, answered whole: under ASGI Django would read a streamed file through a thread."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from whitenoise.middleware import WhiteNoiseMiddleware  # type: ignore[import-untyped]


class StaticFiles(WhiteNoiseMiddleware):
    """WhiteNoise, but with the few kilobytes of a file in the answer itself."""

    @staticmethod
    def serve(static_file: Any, request: HttpRequest) -> HttpResponse:
        """The file with its headers, or 304 without it."""
        found = static_file.get_response(request.method, request.META)
        content = found.file.read() if found.file else b""
        if found.file:
            found.file.close()
        answer = HttpResponse(content, status=int(found.status))
        del answer["Content-Type"]
        for name, value in found.headers:
            answer[name] = value
        if found.file:  # a file that was changed meanwhile is as long as it is now
            answer["Content-Length"] = str(len(content))
        return answer
