#pragma once
// Where two records of one order differ, as a reader would say it.

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace ebbtide::work {

struct Difference {
    std::string text;                ///< "W2 front dry + 1, t(10 %): was 0.412 s, is 0.418 s"
    std::string subject;             ///< what it is about: "W2 front dry + 1"
    std::vector<std::string> words;  ///< by which a person's own account would speak of it
};

struct KindOfDifference {
    std::string name;  ///< in the plural
    std::vector<Difference> differences;
    bool follow = false;  ///< figures that follow from something else: spoken of together
};

/// Of two ebbtide.record/1, weightiest kind first: the statement, requirements, results, means, runs,
/// figures, particulars of the order, values of its documents, recordings, the program. Revision, day of
/// issue and the amendment itself must differ and are left out. The records may hold anything: what has
/// another shape than it should is a difference, or is passed over.
[[nodiscard]] std::vector<KindOfDifference> record_differences(const nlohmann::json& was,
                                                               const nlohmann::json& is);

}  // namespace ebbtide::work
