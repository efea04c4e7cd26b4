#include "plan/bench_check.hpp"

namespace ebbtide::plan {

std::string_view name_of(Mounted mounted) {
    switch (mounted) {
        case Mounted::plate:
            return "plate";
        case Mounted::nothing:
            return "nothing";
        case Mounted::standard:
            return "standard";
        case Mounted::blank:
            return "blank";
    }
    return "";
}

std::string_view label_of(Mounted mounted) {
    switch (mounted) {
        case Mounted::plate:
            return "metal plate";
        case Mounted::nothing:
            return "without specimen";
        case Mounted::standard:
            return "check standard";
        case Mounted::blank:
            return "insulating blank";
    }
    return "";
}

}  // namespace ebbtide::plan
