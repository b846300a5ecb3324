#include "signals/recording/recording.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <random>
#include <string>

#include "signals/channels/gears.h"

namespace fuelwright::signals::recording_test {
namespace {

using Q = Quantity;

// An invented car with a mixture sensor, logged at 20 Hz by its engine computer: everything in one
// row is one instant.
std::string mixture_file(int rows = 1200) {
  std::string out =
      "Time (s),RPM (rpm),MAP (kPa),TPS (%),CLT (degC),IAT (degC),AFR (AFR),AFR Target (AFR),"
      "EGO Correction (%),Pulse Width (ms),Battery (V),Speed (km/h)\n";
  std::mt19937 random(11);
  std::normal_distribution<double> noise(0, 1);
  for (int i = 0; i < rows; ++i) {
    const double t = 0.05 * i;
    const double open = 0.5 + 0.4 * std::sin(0.4 * t);
    const double rpm = 2200 + 900 * std::sin(0.21 * t) + 8 * noise(random);
    out += fmt::format(
        "{:.2f},{:.0f},{:.1f},{:.1f},{:.1f},{:.1f},{:.2f},{:.1f},{:.1f},{:.3f},{:.2f},{:.1f}\n", t,
        rpm, 30 + 65 * open + noise(random), 2 + 80 * open + 0.3 * noise(random),
        60 + std::min(30.0, t), 28 + 2 * std::sin(t / 20), 13.9 + 0.3 * noise(random), 13.5,
        100 + 2 * noise(random), 2.0 + 9 * open + 0.05 * noise(random), 13.8 + 0.05 * noise(random),
        rpm / 38);
  }
  return out;
}

Recording read(const std::string& bytes, const Answers& answers = {}) {
  auto r = read_recording(bytes, "log.csv", answers);
  EXPECT_TRUE(r.ok()) << (r.ok() ? "" : r.error().line());
  return r.ok() ? std::move(*r) : Recording{};
}

Answers on_147() {
  Answers a;
  a.afr_constant = 14.7;
  return a;
}

TEST(Recordings, WithAMixtureSensorArriveInSi) {
  const Recording r = read(mixture_file(), on_147());
  ASSERT_EQ(r.rows, 1200U);
  EXPECT_TRUE(r.warnings.empty()) << r.warnings.front();
  const auto at0 = [&](Q what) {
    const Channel* c = r.find(what);
    EXPECT_NE(c, nullptr) << info(what).name;
    if (c == nullptr) return std::nan("");
    EXPECT_GE(c->confidence, kSure) << info(what).name;
    EXPECT_FALSE(c->reason.empty());
    return c->si[0];
  };
  EXPECT_NEAR(at0(Q::coolant), 333.15, 1e-9);
  EXPECT_NEAR(at0(Q::intake_air), 301.15, 1e-9);
  EXPECT_NEAR(at0(Q::target), 13.5 / 14.7, 1e-12);
  EXPECT_NEAR(at0(Q::lambda), 13.9 / 14.7, 0.1);
  EXPECT_NEAR(at0(Q::map), 62.5e3, 4e3);
  EXPECT_NEAR(at0(Q::throttle), 0.42, 0.02);
  EXPECT_NEAR(at0(Q::pulse_width), 6.5e-3, 0.3e-3);
  EXPECT_NEAR(at0(Q::correction), 0, 0.1) << "100 % is no correction";
  EXPECT_NEAR(at0(Q::battery), 13.8, 0.3);
  EXPECT_NEAR(at0(Q::speed), 2200 / 38.0 / 3.6, 0.5);
  EXPECT_EQ(r.find(Q::target)->scale->constant(), 14.7);
  EXPECT_EQ(r.pace, Pace::timed);
  EXPECT_NEAR(r.row_step->si, 0.05, 1e-9);
  EXPECT_EQ(r.simultaneity, Simultaneity::simultaneous) << r.simultaneity_reason;
  EXPECT_EQ(r.segments.size(), 1U);
}

TEST(Recordings, InDegreesFahrenheitAndMilesArriveInTheSameSi) {
  std::string text =
      "Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degF),Intake air (degF),AFR,AFR "
      "target,Correction (%),"
      "Warm-up (%),Pulse width (ms),MAF (g/s),Battery (V),Speed (mph)\n";
  for (int i = 0; i < 600; ++i) {
    const double open = 0.5 + 0.4 * std::sin(0.05 * i);
    text += fmt::format(
        "{:.2f},{},{:.1f},{:.1f},{:.1f},{:.1f},{:.2f},{:.2f},{:.1f},{:.1f},{:.2f},{:.2f},{:.1f},{:."
        "1f}\n",
        0.05 * i, 2000 + 13 * i % 700, 30 + 60 * open, 80 * open, 100 + 0.1 * i, 86.0,
        14.2 + 0.1 * std::sin(i), 13.5, std::sin(2.0 * i), 20 - 0.03 * i, 2 + 8 * open, 40 * open,
        13.8, 45.0);
  }
  const Recording r = read(text, on_147());
  EXPECT_NEAR(r.find(Q::coolant)->si[0], 310.928, 1e-3);
  EXPECT_NEAR(r.find(Q::intake_air)->si[0], 303.15, 1e-9);
  EXPECT_NEAR(r.find(Q::speed)->si[0], 45 * 0.44704, 1e-9);
  EXPECT_NEAR(r.find(Q::warm_up)->si[0], 0.2, 1e-12);
  EXPECT_NE(r.find(Q::maf), nullptr);
  EXPECT_NE(r.find(Q::correction), nullptr);
}

TEST(Recordings, WithOpenQuestionsAreRefusedInOneLineThatAnswersThem) {
  const auto r = read_recording(mixture_file(), "log.csv", {});
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::needs_answer);
  const std::string line = r.error().line();
  EXPECT_TRUE(line.starts_with("log.csv: 2 columns need an answer: \"AFR\": ")) << line;
  EXPECT_NE(line.find("--channel \"AFR Target=target:afr 14.7\""), std::string::npos) << line;
  EXPECT_EQ(line.find('\n'), std::string::npos);
}

TEST(Recordings, TakeTwoConstantsWhenTwoInstrumentsWroteThem) {
  Answers a;
  ASSERT_TRUE(add_channel_answer(a, "AFR=lambda:afr 14.57").ok());
  ASSERT_TRUE(add_channel_answer(a, "AFR Target=target:afr 14.7").ok());
  const Recording r = read(mixture_file(), a);
  EXPECT_DOUBLE_EQ(r.find(Q::lambda)->scale->constant(), 14.57);
  EXPECT_DOUBLE_EQ(r.find(Q::target)->scale->constant(), 14.7);
}

std::string untimed_file(int rows = 400) {
  std::string out = "RPM,TPS (%),segment_id\n";
  for (int i = 0; i < rows; ++i)
    out += fmt::format("{},{},{}\n", 900 + 37 * i % 1000, 10 + i % 50, i < rows / 2 ? 6 : 9);
  return out;
}

TEST(Pace, WithoutTimeNothingIsSaidAboutSeconds) {
  const Recording r = read(untimed_file());
  EXPECT_EQ(r.pace, Pace::untimed);
  EXPECT_TRUE(r.time_s.empty());
  EXPECT_FALSE(r.row_step);
  ASSERT_EQ(r.warnings.size(), 1U);
  EXPECT_NE(r.warnings[0].find("--rate"), std::string::npos);
}

TEST(Pace, IsWhatTheUserStates) {
  Answers a;
  a.row_step = *parse_row_step("5 Hz");
  const Recording r = read(untimed_file(), a);
  EXPECT_EQ(r.pace, Pace::stated_rate);
  EXPECT_NEAR(r.time_s[10], 2, 1e-9);
  a.unordered = true;
  EXPECT_EQ(read_recording(untimed_file(), "log.csv", a).error().code, ErrorCode::usage);
  a.row_step.reset();
  EXPECT_EQ(read(untimed_file(), a).pace, Pace::unordered);
}

TEST(Pace, OfMillisecondsIsSeen) {
  std::string text = "Time,RPM\n";
  for (int i = 0; i < 200; ++i) text += fmt::format("{},{}\n", 5000 + 50 * i, 900 + 37 * i % 500);
  const Recording r = read(text);
  EXPECT_NEAR(r.row_step->si, 0.05, 1e-9);
  EXPECT_NEAR(r.time_s[0], 0, 1e-9) << "time starts with the recording";
}

TEST(Pace, OfAClockThatStepsByFiveIsAsked) {
  std::string text = "Time,RPM\n";
  for (int i = 0; i < 200; ++i) text += fmt::format("{},{}\n", 5 * i, 900 + 37 * i % 500);
  EXPECT_EQ(read_recording(text, "log.csv", {}).error().code, ErrorCode::needs_answer);
}

TEST(Segments, FollowTheFilesOwnNumber) {
  const Recording r = read(untimed_file());
  ASSERT_EQ(r.segments.size(), 2U);
  EXPECT_EQ(r.segments[0].label, "6");
  EXPECT_EQ(r.segments[1].label, "9");
  EXPECT_EQ(r.segments[1].first, 200U);
}

TEST(Segments, BreakWhereTimeFallsOrLeaps) {
  std::string text = "Time (s),RPM\n";
  for (int i = 0; i < 300; ++i) {
    const double t = i < 100 ? 0.1 * i : i < 200 ? 100 + 0.1 * i : 0.1 * (i - 200);
    text += fmt::format("{:.1f},{}\n", t, 900 + 37 * i % 500);
  }
  const Recording r = read(text);
  ASSERT_EQ(r.segments.size(), 3U);
  EXPECT_EQ(r.segments[1].first, 100U);
  EXPECT_EQ(r.segments[2].first, 200U);
  EXPECT_NEAR(r.row_step->si, 0.1, 1e-9) << "the leap is no row";
}

TEST(RunTime, WithASlipOfThePenInItsNameIsStillTime) {
  std::string text = "ENGINE_RUN_TINE (),ENGINE_RPM ()\n";
  for (int i = 0; i < 400; ++i)
    text += fmt::format("{}.000000, {}.000000,\n", i / 4 * 2, 900 + 37 * i % 500);
  const Recording r = read(text);
  ASSERT_NE(r.find(Q::run_time), nullptr);
  EXPECT_EQ(r.pace, Pace::timed);
  EXPECT_NEAR(r.row_step->si, 198.0 / 399, 1e-9);
  EXPECT_NE(r.pace_reason.find("clock itself is renewed every 2 s"), std::string::npos)
      << r.pace_reason;
}

TEST(Ranges, SpikesAreKeptAndReported) {
  std::string text = mixture_file();
  const auto row = text.find('\n', text.size() / 2) + 1;
  const auto comma = text.find(',', row);
  text.replace(comma + 1, text.find(',', comma + 1) - comma - 1, "65535");
  const Recording r = read(text, on_147());
  ASSERT_EQ(r.warnings.size(), 1U);
  EXPECT_NE(r.warnings[0].find("1 of 1200 values cannot be (65535 rpm came on line "),
            std::string::npos)
      << r.warnings[0];
}

TEST(Ranges, ValuesThatCannotBeAreAskedAbout) {
  std::string text = "RPM,CLT (degC)\n";
  for (int i = 0; i < 100; ++i) text += fmt::format("{},{}\n", 900 + i, 4000 + i / 10);
  const auto r = read_recording(text, "log.csv", {});
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::needs_answer);
  EXPECT_NE(r.error().line().find("4000 degC came on line 2"), std::string::npos)
      << r.error().line();
}

TEST(Gauges, BecomeAbsoluteOnlyWithTheAmbientPressure) {
  std::string text = "RPM,TPS (%),MAP\n";
  for (int i = 0; i < 400; ++i)
    text += fmt::format("{},{},{}\n", 900 + 37 * i % 1000, 10 + i % 50, -60 + i % 50);
  Answers a;
  ASSERT_TRUE(add_channel_answer(a, "MAP=map:kPa gauge").ok());
  EXPECT_EQ(read_recording(text, "log.csv", a).error().code, ErrorCode::needs_answer);
  a.ambient = absolute(95.0 * kPa);
  EXPECT_NEAR(read(text, a).find(Q::map)->si[0], 35e3, 1e-6);
}

TEST(Files, AreReadWithinABoundAndWithClearErrors) {
  const auto dir = std::filesystem::temp_directory_path() / "fuelwright_recording_test";
  std::filesystem::create_directories(dir);
  const std::string path = (dir / "log.csv").string();
  std::ofstream(path, std::ios::binary) << "A,B\r\n1,2\r\n";
  EXPECT_EQ(*read_file(path), "A,B\r\n1,2\r\n") << "byte for byte";
  EXPECT_EQ(read_file(path, 5).error().code, ErrorCode::too_large);
  EXPECT_EQ(read_file(dir.string()).error().code, ErrorCode::bad_input);
  EXPECT_EQ(read_file((dir / "none.csv").string()).error().code, ErrorCode::not_found);
  std::filesystem::remove_all(dir);
}

// Bytes changed, dropped, doubled and cut: always a recording or one clear line, never a crash,
// never a long wait.
TEST(Mutations, OfAGoodFileGiveARecordingOrOneLine) {
  constexpr int kTrials = 1500;
  std::mt19937 random(20240611);
  const std::string good[] = {mixture_file(60), untimed_file(80)};
  const std::string special = ",;\t\"\r\n.-+eE0123456789()[] %\xB0\xFF#=:";
  int read_well = 0;
  int refused = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    std::string bytes = good[trial % 2];
    const auto pick = [&](std::size_t n) {
      return std::uniform_int_distribution<std::size_t>(0, n - 1)(random);
    };
    const std::size_t times = 1 + pick(6);
    for (std::size_t k = 0; k < times && !bytes.empty(); ++k) {
      const std::size_t at =
          pick(3) == 0 ? pick(std::min<std::size_t>(bytes.size(), 220)) : pick(bytes.size());
      switch (pick(6)) {
        case 0:
          bytes[at] = static_cast<char>(pick(256));
          break;
        case 1:
          bytes[at] = special[pick(special.size())];
          break;
        case 2:
          bytes.erase(at, 1 + pick(40));
          break;
        case 3:
          bytes.insert(at, bytes.substr(pick(bytes.size()), pick(60)));
          break;
        case 4:
          bytes.insert(at, 1, special[pick(special.size())]);
          break;
        default:
          if (pick(4) == 0) bytes.resize(at);
      }
    }
    const auto r = read_recording(bytes, "log.csv", on_147());
    if (r.ok()) {
      ++read_well;
      for (const Channel& c : r->channels) ASSERT_EQ(c.si.size(), r->rows);
      ASSERT_EQ(r->segments.front().first, 0U);
      ASSERT_EQ(r->segments.back().last, r->rows);
    } else {
      ++refused;
      const std::string line = r.error().line();
      ASSERT_TRUE(line.starts_with("log.csv")) << line;
      ASSERT_EQ(line.find('\n'), std::string::npos) << line;
    }
  }
  EXPECT_GT(read_well, kTrials / 20);
  EXPECT_GT(refused, kTrials / 20);
}

}  // namespace
}  // namespace fuelwright::signals::recording_test
