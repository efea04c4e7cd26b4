#include "plan/order.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace ebbtide::plan {
namespace {

template <class Row>
const Row* row_with_id(const std::vector<Row>& rows, const std::string& id) {
    const auto found = std::ranges::find(rows, id, &Row::id);
    return found == rows.end() ? nullptr : &*found;
}

}  // namespace

std::string RunKey::label() const {
    return fmt::format("{}{}{} {} {} {}", specimen, face.empty() ? "" : " ", face, conditions,
                       sign_of(polarity), replicate);
}

const Specimen* Order::specimen(const std::string& wanted) const {
    return row_with_id(specimens, wanted);
}

const TestConditions* Order::condition(const std::string& wanted) const {
    return row_with_id(conditions, wanted);
}

}  // namespace ebbtide::plan
