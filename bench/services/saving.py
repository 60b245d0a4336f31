"""Files of the user's: read whole when small, written under new names, never over another."""

from bench.files.exports.files import refuse_existing, write_output
from bench.files.malloc_tuning import keep_freed_memory
from bench.files.new_file import move_new
from bench.files.read_limited import read_whole
from bench.files.recording_file import free_path

__all__ = ["free_path", "keep_freed_memory", "move_new", "read_whole", "refuse_existing",
           "write_output"]
