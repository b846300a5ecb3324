#include "physics/ensemble/serialise.h"

#include <gtest/gtest.h>

#include <cstring>

#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::serialise_test {
namespace {

Drawn some() {
  const MapPlaces places = test_places(5, 3);
  Drawn drawn = test_drawn(test_sensitivities(places, 4), places, 10, 5);
  drawn.members[2].nodes[3].reachable = false;
  drawn.members[2].nodes[4].converged = false;
  drawn.drawn_back = 1;
  return drawn;
}

TEST(Serialise, WhatWasDrawnComesBackAsItWas) {
  const Drawn before = some();
  const auto after = drawn_from_bytes(to_bytes(before));
  ASSERT_TRUE(after.ok()) << after.error().line();
  EXPECT_EQ(after->seed, before.seed);
  EXPECT_EQ(after->drawn_back, 1);
  EXPECT_EQ(after->z, before.z);
  EXPECT_EQ(after->parts, before.parts);
  EXPECT_EQ(after->places.speeds, before.places.speeds);
  EXPECT_EQ(after->places.pressures, before.places.pressures);
  EXPECT_EQ(after->places.surroundings.ambient, before.places.surroundings.ambient);
  ASSERT_EQ(after->members.size(), before.members.size());
  EXPECT_FALSE(after->members[2].nodes[3].reachable);
  EXPECT_FALSE(after->members[2].nodes[4].converged);
  EXPECT_TRUE(after->members[2].nodes[5].reachable);
  const AirNode& a = after->members[7].node(2, 1);
  const AirNode& b = before.members[7].node(2, 1);
  EXPECT_FLOAT_EQ(static_cast<float>(a.ve), static_cast<float>(b.ve));
  EXPECT_NEAR(a.trapped_air / b.trapped_air, 1, 1e-6);
  EXPECT_EQ(a.speed, b.speed);
  EXPECT_EQ(a.cycles, 9);
  EXPECT_EQ(to_bytes(*after), to_bytes(before));
  EXPECT_LT((Ensemble(*after).covariance() - Ensemble(before).covariance()).norm(), 1e-6);
}

TEST(Serialise, TheWholeEngineComesBackToo) {
  Drawn before = some();
  before.whole = before.members[1];
  const auto after = drawn_from_bytes(to_bytes(before));
  ASSERT_TRUE(after.ok()) << after.error().line();
  ASSERT_TRUE(after->whole.has_value());
  EXPECT_EQ(to_bytes(*after), to_bytes(before));
  EXPECT_FALSE(drawn_from_bytes(to_bytes(some()))->whole.has_value());
}

TEST(Serialise, SuspectsComeBackAsTheyWereAndNotForOtherPlaces) {
  const Eigen::VectorXd change = Eigen::VectorXd::LinSpaced(15, -0.25, 0.25);
  const std::vector<Suspect> before{{"cam.intake_duration_050", "intake duration (more)", change},
                                    {"", "a cylinder that takes no air", -change}};
  const std::string bytes = to_bytes(before);
  const auto after = suspects_from_bytes(bytes, 15);
  ASSERT_TRUE(after.ok()) << after.error().line();
  ASSERT_EQ(after->size(), 2U);
  EXPECT_EQ((*after)[0].part, before[0].part);
  EXPECT_EQ((*after)[1].name, before[1].name);
  EXPECT_LT(((*after)[1].change + change).cwiseAbs().maxCoeff(), 1e-7);
  EXPECT_EQ(suspects_from_bytes(bytes, 16).error().code, ErrorCode::damaged);
  EXPECT_EQ(suspects_from_bytes(bytes.substr(0, 40), 15).error().code, ErrorCode::damaged);
  EXPECT_EQ(drawn_from_bytes(bytes).error().code, ErrorCode::damaged);
  std::string bad = bytes;
  bad[50] = static_cast<char>(bad[50] ^ 4);
  EXPECT_EQ(suspects_from_bytes(bad, 15).error().code, ErrorCode::damaged);
}

TEST(Serialise, EveryFlippedBitIsNoticed) {
  const std::string bytes = to_bytes(some());
  for (std::size_t i = 0; i < bytes.size(); i += 7) {
    std::string bad = bytes;
    bad[i] = static_cast<char>(bad[i] ^ (1 << (i % 8)));
    const auto back = drawn_from_bytes(bad);
    ASSERT_FALSE(back.ok()) << i;
    ASSERT_EQ(back.error().code, ErrorCode::damaged);
  }
}

TEST(Serialise, EveryCutIsNoticed) {
  const std::string bytes = to_bytes(some());
  for (std::size_t n = 0; n < bytes.size(); n += 13)
    ASSERT_FALSE(drawn_from_bytes(bytes.substr(0, n)).ok());
  EXPECT_FALSE(drawn_from_bytes(bytes + "x").ok());
}

// FNV-1a of what stands before the last eight bytes, written again after a change.
std::string resealed(std::string bytes) {
  std::uint64_t h = 14695981039346656037ULL;
  for (std::size_t i = 0; i + 8 < bytes.size(); ++i)
    h = (h ^ static_cast<unsigned char>(bytes[i])) * 1099511628211ULL;
  std::memcpy(bytes.data() + bytes.size() - 8, &h, 8);
  return bytes;
}

TEST(Serialise, ANewerFormatAndSizesThatDoNotFitAreNamed) {
  std::string newer = to_bytes(some());
  newer[8] = 9;
  EXPECT_EQ(drawn_from_bytes(resealed(newer)).error().code, ErrorCode::newer_version);
  // A checksum that is right does not make sizes right: every byte set to 255 in turn.
  const std::string bytes = to_bytes(some());
  for (std::size_t i = 12; i < 400; ++i) {
    std::string odd = bytes;
    odd[i] = '\xff';
    (void)drawn_from_bytes(resealed(odd)).ok();  // any answer, no crash
  }
}

}  // namespace
}  // namespace fuelwright::physics::serialise_test
