#pragma once
// Certified fits of the NIST Statistical Reference Datasets (NIST/ITL StRD), from their own files in nist/,
// which are built into the program.

#include <string>
#include <string_view>
#include <vector>

#include "fit/curve.hpp"

namespace ebbtide::validation {

struct CertifiedParameter {
    std::string value, standard_deviation;  ///< as printed
};

struct CertifiedFit {
    fit::CurveStore points;
    std::vector<CertifiedParameter> b;  ///< b1 is the first
    std::string rss;                    ///< sum of squared residuals, as printed
};

/// Throws std::out_of_range for a set that is not there: "Misra1a", "Lanczos3".
[[nodiscard]] CertifiedFit nist(std::string_view name);

}  // namespace ebbtide::validation
