#pragma once
// The quick way through a line: every cell holds what its column holds, and nothing else is there.

#include <cstddef>

#include "recording/decimal.hpp"
#include "recording/decimal_shape.hpp"

namespace ebbtide::recording {

/// What to do with one column of a line.
struct ColumnStep {
    enum class Use { skip, number, clock };
    Use use = Use::skip;
    DecimalShape shape;  ///< of the numbers before
};

/// What a plain line looks like.
struct PlainLine {
    char delimiter, sign, line_end;
    bool columns_follow;  // behind the last that is used
    ColumnStep* columns;
    std::size_t last;

    bool ends_cell(char c) const { return c == delimiter || c == line_end || c == ' ' || c == '\r'; }
};

inline bool read_number(const char*& q, DecimalShape& alike, double& value, const PlainLine& line) {
    const char* const start = q;
    if (alike.known()) {
        if (alike.read(q, line.sign, value) && line.ends_cell(*q)) {
            alike.fitted();
            return true;
        }
        q = start;
    }
    if (read_decimal(q, line.sign, value) != NumberState::number) return false;
    alike.missed(start, q, line.sign);
    return true;
}

/// The same as read_plain_line() where every cell is a number written like the one above it, with nothing
/// around it.
inline bool read_line_alike(const char*& p, double* row, const PlainLine& line) {
    const char* q = p;
    for (std::size_t i = 0; i < line.last; ++i) {
        const DecimalShape& alike = line.columns[i].shape;
        if (!alike.read(q, line.sign, row[i]) || *q != line.delimiter) return false;
        ++q;
    }
    if (!line.columns[line.last].shape.read(q, line.sign, row[line.last])) return false;
    if (*q == '\r' && line.line_end == '\n') ++q;
    if (*q != line.line_end) return false;
    p = q + 1;
    return true;
}

/// Reads the line at `p` into `row` and moves `p` behind it; false when anything is not plain.
inline bool read_plain_line(const char*& p, double* row, const PlainLine& line) {
    const char* q = p;
    if (line.delimiter == line.sign) return false;  // only the quotes tell them apart
    for (std::size_t i = 0;; ++i) {
        while (*q == ' ') ++q;
        ColumnStep& step = line.columns[i];
        if (step.use == ColumnStep::Use::number) {
            if (!read_number(q, step.shape, row[i], line)) return false;
        } else if (step.use == ColumnStep::Use::skip) {
            if (*q == '"') return false;
            while (*q != line.delimiter && *q != line.line_end && !(line.delimiter == ' ' && *q == '\t')) ++q;
        } else {
            return false;
        }
        if (i == line.last) break;
        if (*q == ' ') {
            while (*q == ' ') ++q;
            if (line.delimiter == ' ') continue;
        }
        if (*q != line.delimiter) return false;
        ++q;
    }
    while (*q == ' ') ++q;
    if (*q == '\r' && line.line_end == '\n') ++q;
    if (*q != line.line_end) {
        if (!line.columns_follow || *q != line.delimiter) return false;
        // The line end is there: only whole lines are read this way.
        while (*q != line.line_end) ++q;
    }
    p = q + 1;
    return true;
}

}  // namespace ebbtide::recording
