#pragma once
// Enters in an order's file what became known later. Everything else in it stays as it is, byte for byte.

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"

namespace ebbtide::work {

/// Keys of one table of a TOML text, each with its value as TOML writes it.
struct TableEdit {
    std::string heading;    ///< "[dates]", "[[conditions]]"
    std::size_t which = 0;  ///< of several tables of that heading
    std::vector<std::pair<std::string, std::string>> keys;
};

/// The text with these keys set: a line of its own each, one that is there is replaced. Error: the text has
/// no such table that stands for itself.
[[nodiscard]] Result<std::string> with_keys(const std::string& toml, const std::vector<TableEdit>& edits);

/// Puts the text in the place of the order's file, which is kept as "earlier/order-INSTANT.toml". Errors: it
/// is not `before` any more; the folder cannot be written.
[[nodiscard]] Result<Done> replace_order(const std::string& folder, const std::string& before,
                                         const std::string& text, Instant now);

/// What was measured of conditions that the order names, where it does not say yet.
struct ConditionsKnown {
    std::string id;
    std::optional<double> relative_humidity_percent, temperature_C;
    std::optional<Instant> conditioned_from, conditioned_to;
};
/// Enters them. Errors: no such conditions; what is stated already and differs: a correction is for people;
/// what the order format refuses.
[[nodiscard]] Result<Done> enter_conditions(const std::string& folder, const ConditionsKnown& known,
                                            Instant now);

}  // namespace ebbtide::work
