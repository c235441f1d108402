from demo_evaluated import by_file, evaluation, files

__all__ = ["by_file", "evaluation", "files"]
