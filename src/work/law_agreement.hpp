#pragma once
// When two documents of one law say the same.

#include <nlohmann/json_fwd.hpp>

namespace ebbtide::work {

/// `is`, with what agrees put in the words of `was`: whatever still differs is a difference. Both are the
/// `law` of a run's figures (docs/formats/fit.md); anything else comes back as it is.
///
/// A fit ends where its sum of squares falls no more. So a parameter is known to a share of its standard
/// error; between processors, whose vectors round otherwise, it moves by that. Agreement is: a thousandth of
/// the standard error, or of the interval; a millionth of a sum of squares, and no more than that of a model
/// with a parameter that the samples do not determine; the very words, but for the doubt's, which have
/// figures in them.
[[nodiscard]] nlohmann::json settled_law(const nlohmann::json& was, nlohmann::json is);

}  // namespace ebbtide::work
