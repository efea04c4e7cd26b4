#include "plan/apparatus.hpp"

#include <array>

namespace ebbtide::plan {
namespace {

struct Row {
    Apparatus apparatus;
    std::string_view name, words;
};
constexpr std::array rows{
    Row{Apparatus::clamp_discharge, "clamp_discharge",
        "clamp discharge (specimen between clamps that are charged, then earthed)"},
    Row{Apparatus::charged_plate, "charged_plate",
        "charged plate (a charged metal plate discharges through the specimen)"},
    Row{Apparatus::corona_charging, "corona_charging",
        "corona charging (charge from a corona lies on the specimen's surface)"},
    Row{Apparatus::induction_electrode, "induction_electrode",
        "induction electrode (the voltage of a field electrode below the specimen steps)"},
};

}  // namespace

std::string_view name_of(Apparatus apparatus) {
    return rows[static_cast<std::size_t>(apparatus)].name;
}

std::string_view in_words(Apparatus apparatus) {
    return rows[static_cast<std::size_t>(apparatus)].words;
}

std::optional<Apparatus> apparatus_named(std::string_view name) {
    for (const Row& row : rows)
        if (row.name == name) return row.apparatus;
    return {};
}

}  // namespace ebbtide::plan
