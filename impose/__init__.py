"""impose: nest dye-sublimation transfers on sheets and write print-ready PDFs.

The public doors are `impose.run` (the whole job) and `impose.nest` (rectangles only). Importing this package
loads neither an image, a PDF nor a packing library.
"""

__version__ = "0.1.0"
