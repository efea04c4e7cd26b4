#pragma once
// Methods, specifications, benches, orders and simulations as TOML. docs/formats/ documents every key.
// Errors carry "file:line"; unknown keys are refused with the nearest known one; nothing is defaulted in
// silence that the document asks for.

#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"
#include "plan/simulation.hpp"
#include "plan/specification.hpp"

namespace ebbtide::paperwork {

/// `name` is used in messages only. All problems of the file are in the Error's text, one a line, in the
/// order of their lines.
[[nodiscard]] Result<plan::Method> parse_method(std::string_view toml, const std::string& name);
[[nodiscard]] Result<plan::Specification> parse_specification(std::string_view toml, const std::string& name);
[[nodiscard]] Result<plan::Bench> parse_bench(std::string_view toml, const std::string& name);
[[nodiscard]] Result<plan::Order> parse_order(std::string_view toml, const std::string& name);
[[nodiscard]] Result<plan::Simulation> parse_simulation(std::string_view toml, const std::string& name);

/// A run that was heard live.
struct HeardRun {
    plan::PlannedRecording recording;  ///< of one run, or of none where it belongs to no place of the plan
    std::string run;                   ///< its id
    bool counts = true;                ///< as it was when it was heard
};
/// Runs that were heard live for `order`, in the order in which they were, corrections applied.
[[nodiscard]] Result<std::vector<HeardRun>> parse_live(std::string_view toml, const std::string& name,
                                                       const plan::Order& order);

/// A shipped file of methods/, built into the program.
struct Shipped {
    enum class Kind { method, specification } kind;
    std::string id;  ///< file name without ending
    std::string toml;
};
[[nodiscard]] const std::vector<Shipped>& shipped();

}  // namespace ebbtide::paperwork
