// Waves of a chain of equal strips, and its linear systems, against Eigen's dense solvers.

#include "sheet/wave.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "sheet/tridiagonal.hpp"
#include "support/every_target.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

/// What a chain draws from its strips between contacts, conductances over that between strips.
MatrixXd chain(Index count, double left, double right) {
    MatrixXd out = MatrixXd::Zero(count, count);
    for (Index i = 0; i + 1 < count; ++i) {
        out(i, i) += 1;
        out(i + 1, i + 1) += 1;
        out(i, i + 1) = out(i + 1, i) = -1;
    }
    out(0, 0) += left;
    out(count - 1, count - 1) += right;
    return out;
}

double any_contact() {
    return *rc::gen::element(2.0, 2.0, 1.0, 0.3) * std::pow(10, -*rc::gen::inRange(0, 6));
}

RC_GTEST_PROP(WaveOfAChain, IsAModeOfItsMatrix, ()) {
    const Index count = *rc::gen::inRange<Index>(4, 60);
    const double left = any_contact(), right = any_contact();
    const MatrixXd matrix = chain(count, left, right);
    const Eigen::SelfAdjointEigenSolver<MatrixXd> solved(matrix);
    for (Index k = 0; k < count; ++k) {
        const Wave wave(count, k, left, right);
        VectorXd shape(count);
        for (Index i = 0; i < count; ++i) shape(i) = wave.at(i);
        RC_ASSERT(std::abs(wave.drawn() - solved.eigenvalues()(k)) < 1e-12);
        RC_ASSERT((matrix * shape - wave.drawn() * shape).norm() < 1e-11);
        RC_ASSERT(std::abs(shape.norm() - 1) < 1e-11);
        RC_ASSERT(std::abs(wave.first() - shape(0)) < 1e-11);
        RC_ASSERT(std::abs(wave.last() - shape(count - 1)) < 1e-11);
        RC_ASSERT(std::abs(wave.sum() - shape.sum()) < 1e-9);
    }
}

TEST(WaveOfAChain, NeedsHardlyAnyContact) {
    // All strips at one potential, drained through both contacts: drawn = (left + right) / count.
    for (const double contact : {1e-8, 1e-16, 1e-30, 1e-60}) {
        const Wave wave(200, 0, contact, contact);
        EXPECT_NEAR(wave.drawn() / (contact / 100), 1, 1e-5) << contact;
        EXPECT_NEAR(wave.first(), std::sqrt(1.0 / 200), 1e-6);
        EXPECT_NEAR(wave.sum(), std::sqrt(200.0), 1e-4);
    }
}

RC_GTEST_PROP(TridiagonalSystem, HasTheSolutionOfTheDenseOne, ()) {
    const Index count = *rc::gen::inRange<Index>(1, 40);
    const auto any = [] { return *rc::gen::inRange(1, 1000) / 100.0; };
    VectorXd coupling(count - 1), diagonal(count), right_side(count);
    MatrixXd dense = MatrixXd::Zero(count, count);
    for (Index i = 0; i < count; ++i) {
        dense(i, i) += any();
        right_side(i) = any() - 5;
        if (i + 1 == count) break;
        coupling(i) = any();
        dense(i, i) += coupling(i);
        dense(i + 1, i + 1) += coupling(i);
        dense(i, i + 1) = dense(i + 1, i) = -coupling(i);
    }
    diagonal = dense.diagonal();
    Tridiagonal system;
    system.factor(diagonal, coupling);
    RC_ASSERT(system.sound());
    VectorXd solution = right_side;
    system.solve(solution);
    RC_ASSERT((dense * solution - right_side).norm() < 1e-9 * (1 + right_side.norm()));
}

RC_GTEST_PROP(TridiagonalSystem, SolvesFourAsItSolvesEach, ()) {
    const Index count = *rc::gen::inRange<Index>(1, 40);
    const auto any = [] { return *rc::gen::inRange(1, 1000) / 100.0; };
    VectorXd coupling(4 * (count - 1)), diagonal(4 * count), right_side(4 * count);
    for (double& c : coupling) c = any();
    for (double& r : right_side) r = any() - 5;
    for (Index i = 0; i < 4 * count; ++i)
        diagonal(i) = any() + (i >= 4 ? coupling(i - 4) : 0) + (i < coupling.size() ? coupling(i) : 0);
    test::on_every_target([&] {
        Tridiagonal four;
        four.factor(diagonal, coupling, 4);
        RC_ASSERT(four.sound());
        VectorXd together = right_side;
        four.solve(together);
        for (Index k = 0; k < 4; ++k) {
            const auto own = [&](const VectorXd& all) {
                return VectorXd(all(Eigen::seqN(k, all.size() / 4, 4)));
            };
            Tridiagonal one;
            one.factor(own(diagonal), own(coupling));
            VectorXd alone = own(right_side);
            one.solve(alone);
            RC_ASSERT((own(together) - alone).norm() <= 1e-12 * (1 + alone.norm()));
        }
    });
}

TEST(TridiagonalSystem, KnowsWhenItIsUnsound) {
    Tridiagonal system;
    EXPECT_FALSE(system.sound());
    system.factor(VectorXd::Constant(4, 1.0), VectorXd::Constant(3, 2.0));
    EXPECT_FALSE(system.sound());
    system.factor(VectorXd::Constant(4, std::nan("")), VectorXd::Constant(3, 1.0));
    EXPECT_FALSE(system.sound());
}

}  // namespace
}  // namespace ebbtide::sheet
