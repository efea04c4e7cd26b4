#include "work/sampling.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "basis/number_text.hpp"
#include "record/json.hpp"
#include "stats/order_statistics.hpp"
#include "work/lot.hpp"

namespace ebbtide::work {
namespace {

std::optional<Error> fault_of_shares(const SamplingRequest& request) {
    struct Share {
        const char* option;
        double value;
    };
    const std::array shares{
        Share{"--share", request.claim.share},           Share{"--confidence", request.claim.confidence},
        Share{"--beyond", request.beyond.value_or(0.5)}, Share{"--power", request.power},
        Share{"--good", request.risks.good_beyond},      Share{"--accept", request.risks.accept},
        Share{"--poor", request.risks.poor_beyond},      Share{"--wrong", request.risks.wrong}};
    for (const Share& share : shares)
        if (!(share.value > 0 && share.value < 1))
            return Error{Fault::bad_input, fmt::format("{} is no share between 0 and 1", share.value),
                         share.option, "Give a fraction, such as 0.9 for 90 %"};
    if (!(request.risks.good_beyond < request.risks.poor_beyond))
        return Error{Fault::bad_input, "the good lot has no smaller share over the limit than the poor one",
                     "--good, --poor", "Give the smaller share to --good"};
    if (!(request.risks.accept > request.risks.wrong))
        return Error{Fault::bad_input, "the good lot would be accepted no more often than the poor one",
                     "--accept, --wrong", "Give the larger probability to --accept"};
    if (request.specimens && (*request.specimens < 2 || *request.specimens > 2000))
        return Error{Fault::bad_input, fmt::format("{} specimens", *request.specimens), "--specimens",
                     "Give 2 to 2000"};
    return {};
}

}  // namespace

Result<Sampling> plan_sampling(const SamplingRequest& request) {
    if (const auto fault = fault_of_shares(request)) return *fault;
    Sampling out;
    out.request = request;
    out.needed_without_law = stats::least_specimens_one_sided(request.claim);
    if (request.beyond) {
        out.needed = stats::specimens_to_show(request.claim, *request.beyond, request.power);
        if (request.specimens)
            out.power = stats::power_to_show(*request.specimens, request.claim, *request.beyond);
    }
    out.variables = stats::variables_plan(request.risks);
    out.attributes = stats::attributes_plan(request.risks);
    if (!out.variables || !out.attributes)
        return Error{Fault::bad_input, "telling the good lot from the poor one takes too many specimens",
                     "--good, --poor", "Put the two shares further apart, or accept larger risks"};
    // Both plans fall from accepting nearly all to accepting nearly none between these.
    const double from = request.risks.good_beyond / 5, to = std::min(0.9, request.risks.poor_beyond * 3);
    constexpr int points = 25;
    for (int i = 0; i < points; ++i) {
        const double beyond = from * std::pow(to / from, static_cast<double>(i) / (points - 1));
        out.oc.push_back(
            {beyond, stats::acceptance(*out.variables, beyond), stats::acceptance(*out.attributes, beyond)});
    }
    return out;
}

std::vector<std::string> in_words(const Sampling& sampling) {
    const SamplingRequest& request = sampling.request;
    const stats::Risks& risks = request.risks;
    const std::string claim = in_words(request.claim);
    std::vector<std::string> out;
    if (request.beyond) {
        const std::string beyond = share_text(*request.beyond);
        out.push_back(
            sampling.needed
                ? fmt::format("If {} of the lot are over the limit, {} measured specimens show with a "
                              "chance of {} that {}",
                              beyond, *sampling.needed, share_text(request.power), claim)
                : fmt::format("If {} of the lot are over the limit, no number of specimens up to 2000 "
                              "shows so surely that {}",
                              beyond, claim));
        if (sampling.power)
            out.push_back(fmt::format("{} specimens show it with a chance of {}", *request.specimens,
                                      share_text(*sampling.power)));
    }
    out.push_back(fmt::format(
        "Without an assumption on how times are spread it takes {} specimens, all within the limit",
        sampling.needed_without_law));
    out.push_back(
        fmt::format("To accept a lot with {} over the limit with {} or more, and one with {} with {} "
                    "or less:",
                    share_text(risks.good_beyond), share_text(risks.accept), share_text(risks.poor_beyond),
                    share_text(risks.wrong)));
    out.push_back(
        fmt::format("By variables: {} specimens; accept when mean + {} s of the logarithms of their "
                    "times is not above the logarithm of the limit",
                    sampling.variables->n, fixed_text(sampling.variables->k, 3)));
    out.push_back(fmt::format("By attributes: {} specimens; accept when no more than {} are over the limit",
                              sampling.attributes->n, sampling.attributes->accepted));
    return out;
}

nlohmann::json json_of(const Sampling& sampling) {
    using nlohmann::json;
    const SamplingRequest& request = sampling.request;
    json oc = json::array();
    for (const OcPoint& point : sampling.oc)
        oc.push_back({{"beyond", point.beyond},
                      {"by_variables", point.by_variables},
                      {"by_attributes", point.by_attributes}});
    return {
        {"schema", "ebbtide.plan/1"},
        {"claim", {{"share", request.claim.share}, {"confidence", request.claim.confidence}}},
        {"beyond", record::or_null(request.beyond)},
        {"power", request.power},
        {"specimens_needed", record::or_null(sampling.needed)},
        {"specimens_needed_by_order", sampling.needed_without_law},
        {"specimens", record::or_null(request.specimens)},
        {"power_of_specimens", record::or_null(sampling.power)},
        {"risks",
         {{"good", request.risks.good_beyond},
          {"accept", request.risks.accept},
          {"poor", request.risks.poor_beyond},
          {"wrong", request.risks.wrong}}},
        {"variables", {{"specimens", sampling.variables->n}, {"k", sampling.variables->k}}},
        {"attributes", {{"specimens", sampling.attributes->n}, {"accepted", sampling.attributes->accepted}}},
        {"operating_characteristic", std::move(oc)}};
}

}  // namespace ebbtide::work
