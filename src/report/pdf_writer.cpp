#include "report/pdf_writer.hpp"

#include <cairo-pdf.h>
#include <fmt/format.h>

#include "report/printable_text.hpp"
#include "report/strips.hpp"

namespace ebbtide::report {
namespace {

struct Sheet {
    double width, height;
    [[nodiscard]] double left() const { return (width - text_width_pt) / 2; }
    static constexpr double top = 66, foot = 58;
    [[nodiscard]] double text_height() const { return height - top - foot; }
};

Sheet sheet_of(Paper paper) {
    return paper == Paper::a4 ? Sheet{595.276, 841.89} : Sheet{612, 792};
}

cairo_status_t append(void* closure, const unsigned char* data, unsigned int length) {
    static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
    return CAIRO_STATUS_SUCCESS;
}

/// A surface and its context, finished in the right order.
class Canvas {
  public:
    Canvas(std::string& out, Sheet sheet)
        : surface_(cairo_pdf_surface_create_for_stream(append, &out, sheet.width, sheet.height)),
          cairo_(cairo_create(surface_)) {}
    ~Canvas() {
        cairo_destroy(cairo_);
        cairo_surface_destroy(surface_);
    }
    Canvas(const Canvas&) = delete;
    Canvas& operator=(const Canvas&) = delete;
    [[nodiscard]] cairo_t* cairo() const { return cairo_; }
    [[nodiscard]] cairo_surface_t* surface() const { return surface_; }
    [[nodiscard]] cairo_status_t finish() {
        const cairo_status_t drawn = cairo_status(cairo_);
        cairo_surface_finish(surface_);
        return drawn == CAIRO_STATUS_SUCCESS ? cairo_surface_status(surface_) : drawn;
    }

  private:
    cairo_surface_t* surface_;
    cairo_t* cairo_;
};

/// A long name is cut on the running head, never on the first page's text.
SetText running(const Typesetter& typesetter, const std::string& text, double width) {
    return typesetter.set(fitted(printable(text), small_pt, width),
                          {small_pt, Tint::muted, false, Anchor::start});
}

void draw_head_and_foot(cairo_t* cairo, const Document& document, const Sheet& sheet,
                        const Typesetter& typesetter, std::size_t page, std::size_t pages) {
    const double left = sheet.left(), right = left + text_width_pt;
    const SetText id = typesetter.set(fitted(printable(document.id_and_revision), small_pt, 380),
                                      {small_pt, Tint::ink, true, Anchor::start});
    const SetText laboratory = running(typesetter, document.laboratory, text_width_pt - id.width() - 16);
    laboratory.draw(cairo, {left, 34});
    id.draw(cairo, {right - id.width(), 34});
    const SetText notice =
        typesetter.set(document.page_notice, {small_pt, Tint::muted, false, Anchor::start}, 410.0);
    const SetText number =
        typesetter.set(fmt::format("page {} of {}", page, pages), {small_pt, Tint::ink, true, Anchor::start});
    const double y = sheet.height - 40;
    set_colour(cairo, Tint::rule);
    cairo_set_line_width(cairo, 0.5);
    for (const double line_y : {48.0, y - 5}) {
        cairo_move_to(cairo, left, line_y);
        cairo_line_to(cairo, right, line_y);
        cairo_stroke(cairo);
    }
    notice.draw(cairo, {left, y});
    number.draw(cairo, {right - number.width(), y});
}

}  // namespace

Result<std::string> pdf_of(const Document& document, Paper paper) {
    auto typesetter = Typesetter::open();
    if (!typesetter) return typesetter.error();
    const Sheet sheet = sheet_of(paper);
    Document shown = document;
    std::vector<Strip> strips = strips_of(shown, *typesetter, sheet.text_height());
    if (const int missing = typesetter->missing_characters(); missing > 0) {
        shown.blocks.emplace_back(
            Paragraph{"Some characters of this report are not in its font and show as boxes; the attached "
                      "record and the "
                      "HTML report hold them.",
                      Paragraph::Look::note, ""});
        strips = strips_of(shown, *typesetter, sheet.text_height());
    }
    const std::vector<Page> pages = paginate(strips, sheet.text_height());

    std::string out;
    Canvas canvas(out, sheet);
    for (std::size_t i = 0; i < pages.size(); ++i) {
        draw_head_and_foot(canvas.cairo(), shown, sheet, *typesetter, i + 1, pages.size());
        for (const PlacedStrip& placed : pages[i]) {
            placed.strip->draw(canvas.cairo(), sheet.left(), Sheet::top + placed.y);
            if (!placed.strip->outline.empty())
                cairo_pdf_surface_add_outline(
                    canvas.surface(), CAIRO_PDF_OUTLINE_ROOT, printable(placed.strip->outline).c_str(),
                    fmt::format("page={} pos=[{:.1f} {:.1f}]", i + 1, sheet.left(), Sheet::top + placed.y)
                        .c_str(),
                    CAIRO_PDF_OUTLINE_FLAG_OPEN);
        }
        cairo_show_page(canvas.cairo());
    }
    if (const cairo_status_t status = canvas.finish(); status != CAIRO_STATUS_SUCCESS)
        return Error{Fault::internal,
                     fmt::format("the PDF could not be drawn: {}", cairo_status_to_string(status)), "",
                     "Write the report as HTML"};
    return out;
}

}  // namespace ebbtide::report
