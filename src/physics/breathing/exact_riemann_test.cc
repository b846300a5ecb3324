#include <gtest/gtest.h>

#include "physics/breathing/exact_riemann_reference.h"

namespace fuelwright::physics {
namespace {

struct Tube {
  GasState left, right;
  double p, u, left_density, right_density;  // star values
};
// Toro's tests 1 to 5 (the book's table 4.2 and 4.3; values as printed, six digits, from memory).
const Tube kToro[] = {
    {{1.0, 0.0, 1.0}, {0.125, 0.0, 0.1}, 0.30313, 0.927453, 0.426319, 0.265574},
    {{1.0, -2.0, 0.4}, {1.0, 2.0, 0.4}, 0.00189387, 0.0, 0.0218521, 0.0218521},
    {{1.0, 0.0, 1000.0}, {1.0, 0.0, 0.01}, 460.894, 19.5975, 0.575062, 5.99924},
    {{1.0, 0.0, 0.01}, {1.0, 0.0, 100.0}, 46.0950, -6.19633, 5.99242, 0.575113},
    {{5.99924, 19.5975, 460.894}, {5.99242, -6.19633, 46.0950}, 1691.65, 8.68977, 14.2823, 31.0426},
};
constexpr double kPrinted = 2e-5;  // six printed digits, some inputs printed too

TEST(ExactRiemann, TheStarValuesOfTorosFiveTubesComeOut) {
  for (const Tube& t : kToro) {
    const RiemannReference tube(t.left, t.right, 1.4);
    EXPECT_NEAR(tube.star_pressure(), t.p, kPrinted * t.p);
    EXPECT_NEAR(tube.star_velocity(), t.u, kPrinted * std::max(1.0, std::abs(t.u)));
    EXPECT_NEAR(tube.star_density_left(), t.left_density, kPrinted * t.left_density);
    EXPECT_NEAR(tube.star_density_right(), t.right_density, kPrinted * t.right_density);
  }
}

TEST(ExactRiemann, FarFromTheTubesMiddleNothingHasHappened) {
  for (const Tube& t : kToro) {
    const RiemannReference tube(t.left, t.right, 1.4);
    EXPECT_EQ(tube.at(-1e6).density, t.left.density);
    EXPECT_EQ(tube.at(1e6).pressure, t.right.pressure);
    EXPECT_EQ(tube.at(1e6).velocity, t.right.velocity);
  }
}

// Across the contact pressure and velocity are the same; through a rarefaction the entropy is.
TEST(ExactRiemann, ContactsAndFansKeepWhatTheyMustKeep) {
  const RiemannReference tube(kToro[0].left, kToro[0].right, 1.4);
  const double u = tube.star_velocity();
  EXPECT_NEAR(tube.at(u - 1e-9).pressure, tube.at(u + 1e-9).pressure, 1e-12);
  EXPECT_GT(tube.at(u - 1e-9).density, tube.at(u + 1e-9).density);
  for (double speed = -1.2; speed < 0.9; speed += 0.05) {
    const GasState s = tube.at(speed);
    EXPECT_NEAR(s.pressure / std::pow(s.density, 1.4), 1.0, 1e-12) << speed;
  }
}

TEST(ExactRiemann, AMirroredTubeGivesTheMirroredAnswer) {
  const auto mirrored = [](GasState s) { return GasState{s.density, -s.velocity, s.pressure}; };
  for (const Tube& t : kToro) {
    const RiemannReference there(t.left, t.right, 1.4),
        back(mirrored(t.right), mirrored(t.left), 1.4);
    for (double speed = -30; speed <= 30; speed += 0.37) {
      EXPECT_NEAR(there.at(speed).density, back.at(-speed).density, 1e-9 * there.at(speed).density);
      EXPECT_NEAR(there.at(speed).velocity, -back.at(-speed).velocity, 1e-9);
    }
  }
}

// Rankine-Hugoniot: mass and momentum across the right shock of test 3, in the shock's frame.
TEST(ExactRiemann, AShockKeepsMassAndMomentum) {
  const RiemannReference tube(kToro[2].left, kToro[2].right, 1.4);
  const double behind = tube.star_density_right(), u = tube.star_velocity(),
               p = tube.star_pressure();
  const double shock = behind * u / (behind - 1.0);
  EXPECT_NEAR(p - 0.01, 1.0 * shock * u, 1e-9 * p);
  EXPECT_NEAR(tube.at(shock * (1 + 1e-9)).pressure, 0.01, 1e-12);
  EXPECT_NEAR(tube.at(shock * (1 - 1e-9)).pressure, p, 1e-9);
}

}  // namespace
}  // namespace fuelwright::physics
