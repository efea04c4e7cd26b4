#pragma once
// Paints a picture on a Cairo surface.

#include "report/picture.hpp"
#include "report/text_layout.hpp"

namespace ebbtide::report {

void paint(cairo_t* cairo, const Picture& picture, Point top_left, const Typesetter& typesetter);

}  // namespace ebbtide::report
