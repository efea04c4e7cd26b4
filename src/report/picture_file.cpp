#include "report/picture_file.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include <cmath>
#include <memory>

#include "report/html_writer.hpp"
#include "report/picture_painter.hpp"

namespace ebbtide::report {
namespace {

constexpr double paper_margin = 12;  // points
constexpr double dots_per_point = 4;

std::string alone(const Picture& picture) {
    std::string colours;
    for (const Tint tint :
         {Tint::ink, Tint::muted, Tint::rule, Tint::positive, Tint::negative, Tint::paper}) {
        const Colour c = colour_of(tint);
        colours += fmt::format(
            "--{}:#{:02x}{:02x}{:02x};", name_of(tint), static_cast<int>(std::lround(255 * c.red)),
            static_cast<int>(std::lround(255 * c.green)), static_cast<int>(std::lround(255 * c.blue)));
    }
    const std::string element = svg_of(picture);
    constexpr std::string_view opening = "<svg ";
    return fmt::format(
        R"svg(<svg xmlns="http://www.w3.org/2000/svg" style="background:#fff;font-family:Inter,sans-serif;{}" {})svg",
        colours, element.substr(opening.size()));
}

cairo_status_t take_bytes(void* to, const unsigned char* bytes, unsigned int count) {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(bytes), count);
    return CAIRO_STATUS_SUCCESS;
}

using CairoSurface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;

cairo_status_t paint_on(cairo_surface_t* surface, const Picture& picture, double scale,
                        const Typesetter& typesetter) {
    const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> cairo(cairo_create(surface), cairo_destroy);
    cairo_scale(cairo.get(), scale, scale);
    set_colour(cairo.get(), Tint::paper);
    cairo_paint(cairo.get());
    paint(cairo.get(), picture, {paper_margin, paper_margin}, typesetter);
    return cairo_status(cairo.get());
}

}  // namespace

std::optional<Error> fault_of_picture_name(const std::string& file) {
    for (const char* ending : {".svg", ".png", ".pdf"})
        if (file.ends_with(ending)) return {};
    return Error{Fault::bad_input, fmt::format("'{}' is neither .svg, .png nor .pdf", file), "--output",
                 "Name a file that ends in one of these"};
}

Result<std::string> picture_file(const Picture& picture, const std::string& file) {
    if (auto fault = fault_of_picture_name(file)) return *std::move(fault);
    if (file.ends_with(".svg")) return alone(picture);
    const auto typesetter = Typesetter::open();
    if (!typesetter) return typesetter.error();
    const double width = picture.width + 2 * paper_margin, height = picture.height + 2 * paper_margin;
    std::string out;
    cairo_status_t status = CAIRO_STATUS_SUCCESS;
    if (file.ends_with(".pdf")) {
        const CairoSurface surface(cairo_pdf_surface_create_for_stream(take_bytes, &out, width, height),
                                   cairo_surface_destroy);
        status = paint_on(surface.get(), picture, 1, *typesetter);
        cairo_surface_finish(surface.get());
        if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface.get());
    } else {
        const CairoSurface surface(
            cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                       static_cast<int>(std::ceil(width * dots_per_point)),
                                       static_cast<int>(std::ceil(height * dots_per_point))),
            cairo_surface_destroy);
        status = paint_on(surface.get(), picture, dots_per_point, *typesetter);
        if (status == CAIRO_STATUS_SUCCESS)
            status = cairo_surface_write_to_png_stream(surface.get(), take_bytes, &out);
    }
    if (status != CAIRO_STATUS_SUCCESS)
        return Error{Fault::internal,
                     fmt::format("the picture cannot be drawn: {}", cairo_status_to_string(status)), file,
                     ""};
    return out;
}

}  // namespace ebbtide::report
