"""A throwaway Redis."""

import shutil

from tests.servers.process import Server, ServerFailed, answers, free_port, scratch_folder


class Redis:
    """Redis on loopback that keeps nothing on disk."""

    def __init__(self) -> None:
        program = shutil.which("redis-server")
        if program is None:
            raise ServerFailed("redis-server is not installed; `make setup` installs it where it may.")
        self.folder = scratch_folder()
        self.port = free_port()
        command = [program, "--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self.folder)]
        self.server = Server([*command, "--save", "", "--appendonly", "no"], log=self.folder / "log")
        try:
            self.server.wait_until(lambda: answers(self.port))
        except ServerFailed:
            self.stop()
            raise

    def url(self, database: int = 0) -> str:
        """The URL of one of its 16 numbered databases."""
        return f"redis://127.0.0.1:{self.port}/{database}"

    def stop(self) -> None:
        """SIGTERM, then the folder goes."""
        self.server.stop()
        shutil.rmtree(self.folder, ignore_errors=True)
