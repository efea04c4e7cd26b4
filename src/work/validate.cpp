#include "work/validate.hpp"

#include "validation/checks.hpp"
#include "work/known_numbers.hpp"
#include "work/known_order.hpp"
#include "work/this_computer.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using validation::Checked;

json json_of(const Checked& checked) {
    json ours;
    if (checked.fault.empty()) std::visit([&](const auto& answer) { ours = answer; }, checked.ours);
    return {{"subject", checked.subject}, {"name", checked.name},       {"source", checked.source},
            {"printed", checked.printed}, {"ours", std::move(ours)},    {"unit", checked.unit},
            {"allowed", checked.allowed}, {"because", checked.because}, {"agrees", checked.agrees},
            {"fault", checked.fault}};
}

}  // namespace

validation::Validation validate(Instant made) {
    return {made, this_computer(), validation::run(all_checks())};
}

std::vector<validation::Check> all_checks() {
    std::vector<validation::Check> checks;
    for (const auto list : {order_checks, validation::decay_checks, validation::sheet_checks,
                            validation::fit_checks, validation::uncertainty_checks,
                            validation::decision_checks, reading_checks, validation::arithmetic_checks})
        for (validation::Check& check : list()) checks.push_back(std::move(check));
    return checks;
}

json json_of(const validation::Validation& validation) {
    const validation::Computer& computer = validation.computer;
    json checks = json::array();
    for (const Checked& checked : validation.checked) checks.push_back(json_of(checked));
    return {{"schema", "ebbtide.validation/1"},
            {"made", iso_text(validation.made)},
            {"computer",
             {{"name", computer.name},
              {"program", computer.program},
              {"program_sha256", computer.program_sha256},
              {"compiler", computer.compiler},
              {"processor", computer.processor},
              {"vector_target", computer.vector_target},
              {"operating_system", computer.operating_system}}},
            {"checks", std::move(checks)},
            {"disagreeing", validation.disagreeing()},
            {"all_agree", validation.all_agree()}};
}

}  // namespace ebbtide::work
