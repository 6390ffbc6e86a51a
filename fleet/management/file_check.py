"""What is wrong with the kept files, line by line."""

from collections.abc import Iterator

from django.core.management.base import OutputWrapper

from fleet.queries.files import FileFault, file_faults


def tell_faults(out: OutputWrapper) -> Iterator[FileFault]:
    """Every fault, written to ``out`` as it is found: what it is, and the file's key in the files' folder."""
    for fault in file_faults():
        out.write(f"{fault.what} {fault.key}")
        yield fault
