#pragma once
// Words set in the report's own font, by Pango. The font is named and loaded by file, so that the fonts of
// the machine do not change a report.

#include <pango/pangocairo.h>

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "report/document.hpp"

namespace ebbtide::report {

struct TextLook {
    double size = body_pt;
    Tint tint = Tint::ink;
    bool strong = false;
    Anchor side = Anchor::start;
};

void set_colour(cairo_t* cairo, Tint tint);

/// Text broken into lines. Holds no colour of the page it is drawn on.
class SetText {
  public:
    SetText(std::shared_ptr<PangoLayout> layout, Tint tint);
    [[nodiscard]] double width() const { return width_; }
    [[nodiscard]] double height() const { return lines_.empty() ? 0 : lines_.back().bottom; }
    [[nodiscard]] std::size_t line_count() const { return lines_.size(); }
    [[nodiscard]] double line_height(std::size_t line) const {
        return lines_[line].bottom - lines_[line].top;
    }
    /// Distance from the top to the first baseline.
    [[nodiscard]] double first_baseline() const { return lines_.empty() ? 0 : lines_.front().baseline; }
    void draw(cairo_t* cairo, Point top_left) const;
    /// One line alone, as if it were the first.
    void draw_line(cairo_t* cairo, std::size_t line, Point top_left) const;

  private:
    struct Line {
        double top, bottom, baseline, left;
    };
    std::shared_ptr<PangoLayout> layout_;
    Tint tint_;
    double width_ = 0;
    std::vector<Line> lines_;
};

class Typesetter {
  public:
    /// Error unreadable: the font's files are not in the folder, where Debian's fonts-inter puts them.
    [[nodiscard]] static Result<Typesetter> open(
        const std::string& font_folder = "/usr/share/fonts/opentype/inter");

    /// `width` in points; absent: one line a line feed.
    [[nodiscard]] SetText set(std::string_view text, const TextLook& look,
                              std::optional<double> width = std::nullopt) const;
    /// Width of the widest word.
    [[nodiscard]] double widest_word(std::string_view text, const TextLook& look) const;
    /// Characters set so far that the font cannot show.
    [[nodiscard]] int missing_characters() const { return *missing_; }

  private:
    explicit Typesetter(std::shared_ptr<PangoContext> context) : context_(std::move(context)) {}
    [[nodiscard]] std::shared_ptr<PangoLayout> layout_of(std::string_view text, const TextLook& look) const;
    std::shared_ptr<PangoContext> context_;
    std::shared_ptr<int> missing_ = std::make_shared<int>(0);
};

}  // namespace ebbtide::report
