import io

from PIL import Image


def jpeg(width: int = 64, height: int = 48, colour: str = "olive") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(out, format="JPEG")
    return out.getvalue()
