"""Picture files in and out. Names are imported from the modules, so that each loads only what it needs.

========== ============================================================ ==========================
module     does                                                         loads
========== ============================================================ ==========================
`errors`   the errors of files, and sentences for those of the system   standard library
`safe`     temporary name, flush, check, rename                         standard library
`copying`  copies to another disk, read back and compared               standard library
`exif`     what a frame says it was taken with                          exiv2
`dng`      writes a raw frame                                           exiv2, numpy, tifffile
`tiff`     writes a picture of 16 bits for an editor                    exiv2, numpy, tifffile
`extent`   whether a file has all its bytes                             tifffile
`raw`      the mosaic and the embedded preview of a raw frame           Pillow, rawpy, tifffile
`check`    whether a frame that was brought home is whole               Pillow, rawpy, tifffile
`preview`  a small JPEG of a raw frame, for people                      Pillow, rawpy, tifffile
========== ============================================================ ==========================
"""
