#pragma once
// How documents write a polarity.

#include <array>
#include <optional>
#include <string_view>
#include <utility>

#include "paperwork/table_reader.hpp"
#include "plan/order.hpp"

namespace ebbtide::paperwork {

/// The key 'polarity' of a table: "+", "-", "positive" or "negative".
[[nodiscard]] inline std::optional<plan::Polarity> polarity_in(TableReader& table) {
    using plan::Polarity;
    static constexpr std::array<std::pair<std::string_view, Polarity>, 4> words{
        {{"+", Polarity::positive},
         {"-", Polarity::negative},
         {"positive", Polarity::positive},
         {"negative", Polarity::negative}}};
    return table.choice<Polarity>("polarity", words);
}

}  // namespace ebbtide::paperwork
