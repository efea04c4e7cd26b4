#pragma once
// Random draws that are a function of their place: trial n of a stream is the same number whoever asks for
// it, in blocks of any size, on any thread and on every processor.
//
// Bits from Philox 4x32-10 (J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as
// easy as 1, 2, 3", SC11, 2011): key = seed, counter = (place, purpose).

#include <cstdint>
#include <span>

namespace ebbtide::lanes {

/// One sequence of draws. Streams that differ in seed or purpose have nothing to do with each other.
struct Stream {
    std::uint64_t seed = 0;
    std::uint64_t purpose = 0;
};

/// The generator itself: four words for each counter from `first` on. The size of `words` is a multiple of 4.
void random_words(const Stream& stream, std::uint64_t first, std::span<std::uint32_t> words);

// Each adds scale * draw to every place of `sum`, which stands for the trials from `first` on: a model that
// is linear in its inputs is a call an input. One stream serves one kind of draw: two kinds would share bits.

/// Uniform in (0, 1), never an end: multiples of 2^-52 plus 2^-53.
void add_uniform(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum);

/// Normal, mean 0 and standard deviation 1, by Box and Muller's transform. In single precision: the square of
/// a draw is rounded to 6e-7 of itself and to 1.2e-7, its angle to 2^-22 of an eighth turn, and none is
/// beyond 6.56 (one in 2e10 would be).
void add_normal(const Stream& stream, std::uint64_t first, double scale, std::span<double> sum);

/// The same draws, written instead of added: mean + deviation * draw.
void draw_normal(const Stream& stream, std::uint64_t first, double mean, double deviation,
                 std::span<double> out);

/// Student's t with at least one degree of freedom, by R. W. Bailey's form of the same transform, which is
/// exact (Math. Comp. 62, 779, 1994): sqrt(v (U^(-2/v) - 1)) cos(2 pi V). Rounded as the normal draws.
void add_students_t(const Stream& stream, std::uint64_t first, double degrees_of_freedom, double scale,
                    std::span<double> sum);

}  // namespace ebbtide::lanes
