#include "advice/dynamic_estimate/live_driving.h"

#include <gtest/gtest.h>

#include <cmath>

#include "advice/dynamic_estimate/incremental.h"
#include "advice/dynamic_estimate/test_drives.h"

namespace fuelwright::advice::live_driving_test {
namespace {

// Rows first..last, as a link hands them over.
signals::Recording piece_of(const signals::Recording& r, std::size_t first, std::size_t last) {
  signals::Recording out = r;
  out.rows = last - first;
  out.segments.clear();
  const auto cut = [&](std::vector<double>& v) {
    v = {v.begin() + static_cast<std::ptrdiff_t>(first),
         v.begin() + static_cast<std::ptrdiff_t>(last)};
  };
  cut(out.time_s);
  for (signals::Channel& c : out.channels) cut(c.si);
  return out;
}

void expect_same_rows(const Driving& a, const Driving& b) {
  ASSERT_EQ(a.rows(), b.rows());
  ASSERT_EQ(a.stretches.size(), b.stretches.size());
  for (std::size_t s = 0; s < a.stretches.size(); ++s) {
    ASSERT_EQ(a.stretches[s].first, b.stretches[s].first);
    ASSERT_EQ(a.stretches[s].last, b.stretches[s].last);
    for (std::size_t i = a.stretches[s].first; i < a.stretches[s].last; ++i) {
      ASSERT_EQ(a.fuel_kg_s[i], b.fuel_kg_s[i]) << i;
      ASSERT_EQ(a.dead_kg_s2[i], b.dead_kg_s2[i]) << i;
      ASSERT_EQ(a.air_kg_s[i], b.air_kg_s[i]) << i;
      ASSERT_EQ(a.heating[i], b.heating[i]) << i;
      ASSERT_EQ(a.usable[i], b.usable[i]) << i;
      ASSERT_EQ(a.since_cut_s[i], b.since_cut_s[i]) << i;
      ASSERT_EQ(a.high_load_s[i], b.high_load_s[i]) << i;
      ASSERT_EQ(std::isnan(a.reading_ln[i]), std::isnan(b.reading_ln[i])) << i;
      ASSERT_EQ(a.at[i].node, b.at[i].node) << i;
    }
  }
}

// In pieces of 1 to 60 rows. What still waits at the end is left out.
Driving lived(const TestCar& c, const signals::Recording& r, const ObserveOptions& o,
              const std::optional<HeldLaw>& law) {
  auto live = LiveDriving::begin(piece_of(r, 0, 20), c.sheet, c.found(), c.found(), o, law);
  EXPECT_TRUE(live.ok()) << (live.ok() ? "" : live.error().line());
  Driving out = live->next();
  std::size_t n = 0;
  for (std::size_t i = 20; i < r.rows; i += n) {
    n = std::min(1 + (7 * i) % 60, r.rows - i);
    const Status added = live->add(piece_of(r, i, i + n));
    EXPECT_TRUE(added.ok()) << (added.ok() ? "" : added.error().line());
    out.append(live->next());
  }
  return out;
}

TEST(LiveDriving, RowsThatComeAFewAtATimeAreThoseOfTheWholeRecording) {
  const TestCar c = invent(101);
  auto r = drive(c, 101, 2);
  for (std::size_t i = 703; i < r.rows; ++i) r.time_s[i] += 20;  // a gap ...
  for (signals::Channel& channel : r.channels) {                 // ... values missing ...
    for (std::size_t i = 1200; i < 1240; ++i) channel.si[i] = NAN;
    for (std::size_t i = 1241; i < 1260; ++i) channel.si[i] = NAN;  // ... but for one row
    if (channel.what == signals::Quantity::coolant) {
      for (std::size_t i = 0; i < r.rows; ++i) {
        if (i % 8 != 0) channel.si[i] = NAN;  // ... and one that is read now and then
      }
    }
  }
  const auto whole = Driving::make(r, c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(whole.ok()) << whole.error().line();
  expect_same_rows(lived(c, r, {}, whole->law), *whole);
}

TEST(LiveDriving, WithoutAPulseWidthRowsWaitUntilACutWouldHaveShown) {
  const TestCar c = invent(102, "recorder.missing = [\"pulse_width\"]\n");
  const auto r = drive(c, 102, 2);
  const auto whole = Driving::make(r, c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(whole.ok()) << whole.error().line();
  long cuts = 0;
  for (std::size_t i = 0; i < whole->rows(); ++i) cuts += whole->fuel_kg_s[i] <= 0;
  EXPECT_GT(cuts, 10);
  const Driving live = lived(c, r, {}, {});
  EXPECT_EQ(live.rows(), whole->rows() - 30);  // 1.5 s at 20 Hz
  expect_same_rows(live, whole->part(0, live.rows()));
}

TEST(LiveDriving, WithoutALawRowsTeachNothingUntilOneIsFitted) {
  const TestCar c = invent(103);
  const auto r = drive(c, 103, 1.5);
  auto live = LiveDriving::begin(piece_of(r, 0, 20), c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(live.ok());
  ASSERT_TRUE(live->add(piece_of(r, 20, r.rows)).ok());
  EXPECT_TRUE(live->needs_law());
  const auto o = options_for(c.sheet);
  RunningEstimate ride(c.found(), car::TableWhat::ve, o);
  ride.add(live->next());
  EXPECT_EQ(ride.now().map.samples, 0);
  EXPECT_EQ(ride.now().map.verdict, Verdict::do_not_know);
  const auto fitted = live->fit_law();
  ASSERT_TRUE(fitted.ok() && *fitted);
  EXPECT_FALSE(live->needs_law());
  ride.replace(live->all());
  EXPECT_GT(ride.now().map.samples, 300);
  // The law of all rows is the one that the recording gives.
  const auto whole = Driving::make(r, c.sheet, c.found(), c.found(), {});
  EXPECT_EQ(live->all().law->c, whole->law->c);
  // Fitted again it is the same, and holding it again changes nothing.
  ASSERT_TRUE(live->fit_law().ok());
  expect_same_rows(live->all(), *whole);
}

TEST(LiveDriving, ACarThatIsStillColdHasNoLawYet) {
  const TestCar c = invent(104, "vehicle.coolant_at_start_degc = 10\n");
  const auto r = drive(c, 104, 0.3);
  auto live = LiveDriving::begin(r, c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(live.ok());
  const auto fitted = live->fit_law();
  ASSERT_TRUE(fitted.ok());
  EXPECT_FALSE(*fitted);
}

TEST(LiveDriving, ALawOfAnotherTableIsAConflictAndNothingIsTaughtByIt) {
  const TestCar c = invent(105);
  const auto r = drive(c, 105, 2);
  car::Surface other = c.found();
  for (std::size_t i = 0; i < other.values.size(); i += 2) other.values[i] *= 1.15;
  auto live = LiveDriving::begin(r, c.sheet, c.found(), other, {});
  ASSERT_TRUE(live.ok());
  const auto fitted = live->fit_law();
  ASSERT_FALSE(fitted.ok());
  EXPECT_EQ(fitted.error().code, ErrorCode::conflict);
  const Driving all = live->all();
  for (const char usable : all.usable) ASSERT_EQ(usable, 0);
}

TEST(LiveDriving, TimeThatRunsBackwardsOrUnevenlyIsRefused) {
  const TestCar c = invent(106);
  auto r = drive(c, 106, 0.5);
  auto live = LiveDriving::begin(piece_of(r, 0, 40), c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(live.ok());
  const Status back = live->add(piece_of(r, 20, 60));
  ASSERT_FALSE(back.ok());
  EXPECT_EQ(back.error().code, ErrorCode::bad_input);
  for (std::size_t i = 1; i < r.rows; i += 3) r.time_s[i] += 0.02;
  auto uneven = LiveDriving::begin(piece_of(r, 0, 40), c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(uneven.ok());  // too few rows to say
  const Status status = uneven->add(piece_of(r, 40, 400));
  ASSERT_FALSE(status.ok());
  EXPECT_EQ(status.error().code, ErrorCode::not_found);
}

TEST(LiveDriving, ARideAtTwentyRowsASecondFindsTheTableWhileItGoesOn) {
  // As a live session would: law first, then a second at a time, following the advice.
  const TestCar c = invent(107);
  const auto before = drive(c, 107, 1.5);
  const auto earlier = Driving::make(before, c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(earlier.ok());
  const auto r = drive(c, 108, 2.5);
  const auto judge = judge_of(c, 109, 2);
  auto live =
      LiveDriving::begin(piece_of(r, 0, 20), c.sheet, c.found(), c.found(), {}, earlier->law);
  ASSERT_TRUE(live.ok());
  RunningEstimate ride(c.found(), car::TableWhat::ve, options_for(c.sheet));
  ride.add(live->next());
  double first_error = 0;
  for (std::size_t i = 20; i + 20 <= r.rows; i += 20) {
    ASSERT_TRUE(live->add(piece_of(r, i, i + 20)).ok());
    ride.add(live->next());
    if (ride.stale()) ride.relinearise();
    if (i == 20) first_error = score(ride.now().map, judge).rms;
  }
  const Score end = score(ride.now().map, judge);
  EXPECT_LT(end.rms, 0.5 * first_error);
  const auto whole = Driving::make(r, c.sheet, c.found(), c.found(), {});
  ASSERT_TRUE(whole.ok());
  const DynamicEstimate batch =
      estimate_dynamic(c.found(), car::TableWhat::ve, {&*whole, 1}, {}, options_for(c.sheet));
  EXPECT_LT(end.rms, score(batch.map, judge).rms + 0.003);  // no worse for being in time
  EXPECT_GT(end.held, 0.75);
  RecordProperty("rms", std::to_string(end.rms));
}

}  // namespace
}  // namespace fuelwright::advice::live_driving_test
