"""Traces photographs of woven cloth from the yarns themselves: a second renderer beside `render`.

It works on another principle, so that what the reader has grown used to in the pictures of the
first shows: there the cloth is a height model that is shaded, here each end and pick is a tube in
space, lit by a window, the room and a lamp, and the light is followed from bounce to bounce. It
shares no code with the reader nor with `tests.render`. `python -m tests.traced` lists the scenes.

It needs Mitsuba (`pip install mitsuba`), which nothing else here does, and an LLVM that Mitsuba
knows: name its library by DRJIT_LIBLLVM_PATH where Mitsuba does not find one (19 works, with 15
Mitsuba 3.9 stops). No test imports it. A photo takes one to three minutes on two cores.

Its pictures are unlike real photographs in this:

- Yarns are smooth tubes with a twist painted and grooved on them. There are no single fibres but
  the loose ones, and no light goes through a yarn.
- Yarns do not press each other: they keep their section, and lie apart or run into each other a
  little where the cloth is dense. Fulled or felted cloth is only loose fibres on plain tubes.
- The `srgb` of a yarn in the truth is that of its fibres, without the shade of the cloth.
- Colours are traced as red, green and blue and not as spectra; the phone's working is simple, one
  exposure and one tone curve, and its noise does not depend on the lens.
- Cloth lies on a bare table with nothing on it but rulers. Setts, rulers and light were made up.
"""
