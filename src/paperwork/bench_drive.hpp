#pragma once
// The tables of a bench file that live work needs: [drive], [check], [[setup]].

#include "paperwork/table_reader.hpp"
#include "plan/bench.hpp"

namespace ebbtide::paperwork {

/// Reads them where they are. A check compares with the induced fractions of the fixture: it asks for them.
void read_driving(TableReader& top, plan::Bench& bench);

}  // namespace ebbtide::paperwork
