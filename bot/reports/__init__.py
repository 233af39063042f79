"""What the log says, for managers and other programs: records to export, and the summary as data and as a picture.

Pure functions over turns and states; whoever calls them writes the files.
"""
