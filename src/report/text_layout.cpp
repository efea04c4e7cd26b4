#include "report/text_layout.hpp"

#include <fontconfig/fontconfig.h>
#include <pango/pangofc-fontmap.h>

#include "report/printable_text.hpp"

namespace ebbtide::report {
namespace {

constexpr const char* font_files[] = {"Inter-Regular.otf", "Inter-SemiBold.otf"};
constexpr double line_spacing = 1.13;  // times the font's own line height of 1.21 em

double points(int pango_units) {
    return static_cast<double>(pango_units) / PANGO_SCALE;
}

template <class T>
std::shared_ptr<T> owned(T* object) {
    return std::shared_ptr<T>(object, [](T* held) { g_object_unref(held); });
}

}  // namespace

void set_colour(cairo_t* cairo, Tint tint) {
    const Colour colour = colour_of(tint);
    cairo_set_source_rgb(cairo, colour.red, colour.green, colour.blue);
}

SetText::SetText(std::shared_ptr<PangoLayout> layout, Tint tint) : layout_(std::move(layout)), tint_(tint) {
    PangoRectangle logical;
    pango_layout_get_extents(layout_.get(), nullptr, &logical);
    width_ = points(logical.width);
    PangoLayoutIter* iter = pango_layout_get_iter(layout_.get());
    do {
        int top = 0, bottom = 0;
        PangoRectangle line;
        pango_layout_iter_get_line_yrange(iter, &top, &bottom);
        pango_layout_iter_get_line_extents(iter, nullptr, &line);
        lines_.push_back(
            {points(top), points(bottom), points(pango_layout_iter_get_baseline(iter)), points(line.x)});
    } while (pango_layout_iter_next_line(iter) != FALSE);
    pango_layout_iter_free(iter);
}

void SetText::draw(cairo_t* cairo, Point top_left) const {
    set_colour(cairo, tint_);
    cairo_move_to(cairo, top_left.x, top_left.y);
    pango_cairo_show_layout(cairo, layout_.get());
}

void SetText::draw_line(cairo_t* cairo, std::size_t line, Point top_left) const {
    set_colour(cairo, tint_);
    const Line& place = lines_[line];
    cairo_move_to(cairo, top_left.x + place.left, top_left.y + place.baseline - place.top);
    pango_cairo_show_layout_line(cairo,
                                 pango_layout_get_line_readonly(layout_.get(), static_cast<int>(line)));
}

Result<Typesetter> Typesetter::open(const std::string& font_folder) {
    FcConfig* config = FcConfigCreate();
    for (const char* name : font_files) {
        const std::string file = font_folder + "/" + name;
        if (FcConfigAppFontAddFile(config, reinterpret_cast<const FcChar8*>(file.c_str())) == FcFalse) {
            FcConfigDestroy(config);
            return Error{Fault::unreadable, "the font of the report cannot be read", file,
                         "Install the Debian package fonts-inter, or write the report as HTML"};
        }
    }
    auto map = owned(pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT));
    pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(map.get()), config);  // takes its own reference
    FcConfigDestroy(config);
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(map.get()), 72);  // a unit is a point
    auto context = owned(pango_font_map_create_context(map.get()));
    pango_context_set_language(context.get(), pango_language_from_string("en"));
    pango_context_set_round_glyph_positions(context.get(), FALSE);
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(context.get(), options);
    cairo_font_options_destroy(options);
    return Typesetter(std::move(context));
}

std::shared_ptr<PangoLayout> Typesetter::layout_of(std::string_view text, const TextLook& look) const {
    auto layout = owned(pango_layout_new(context_.get()));
    PangoFontDescription* font = pango_font_description_new();
    pango_font_description_set_family(font, "Inter");
    pango_font_description_set_weight(font, look.strong ? PANGO_WEIGHT_SEMIBOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font, look.size * PANGO_SCALE);
    pango_layout_set_font_description(layout.get(), font);
    pango_font_description_free(font);
    PangoAttrList* attributes = pango_attr_list_new();
    // Figures of one width; no contextual forms, which would turn a "2x3" of an id into something else.
    pango_attr_list_insert(attributes, pango_attr_font_features_new("tnum=1, calt=0"));
    // A hash or an id broken over lines gets no hyphen that is not its own.
    pango_attr_list_insert(attributes, pango_attr_insert_hyphens_new(FALSE));
    pango_layout_set_attributes(layout.get(), attributes);
    pango_attr_list_unref(attributes);
    pango_layout_set_line_spacing(layout.get(), static_cast<float>(line_spacing));
    pango_layout_set_alignment(layout.get(), look.side == Anchor::start    ? PANGO_ALIGN_LEFT
                                             : look.side == Anchor::middle ? PANGO_ALIGN_CENTER
                                                                           : PANGO_ALIGN_RIGHT);
    const std::string shown = printable(text);
    pango_layout_set_text(layout.get(), shown.c_str(), static_cast<int>(shown.size()));
    return layout;
}

SetText Typesetter::set(std::string_view text, const TextLook& look, std::optional<double> width) const {
    auto layout = layout_of(text, look);
    if (width) {
        pango_layout_set_width(layout.get(), static_cast<int>(std::max(1.0, *width) * PANGO_SCALE));
        pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
    }
    *missing_ += pango_layout_get_unknown_glyphs_count(layout.get());
    return {std::move(layout), look.tint};
}

double Typesetter::widest_word(std::string_view text, const TextLook& look) const {
    const auto layout = layout_of(text, look);
    pango_layout_set_width(layout.get(), 0);
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD);
    PangoRectangle logical;
    pango_layout_get_extents(layout.get(), nullptr, &logical);
    return points(logical.width);
}

}  // namespace ebbtide::report
