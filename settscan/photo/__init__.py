"""Pixels to flat cloth: the only folder that touches cv2, Pillow and files of pictures."""
