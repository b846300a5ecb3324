#include <fmt/format.h>
#include <gtest/gtest.h>

#include <fstream>
#include <random>
#include <sstream>

#include "car/build/internal/exact.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car::write_test {
namespace {

std::string example(const std::string& name) {
  std::ifstream in(std::string(FUELWRIGHT_SOURCE_DIR) + "/examples/" + name);
  std::stringstream out;
  out << in.rdbuf();
  return out.str();
}

const std::string kFive =
    "[engine]\ndisplacement = \"5.7 l\"\ncylinders = 8\n[cam]\nintake_duration_050 = \"214 deg\"\n"
    "[injection]\ninjector_flow = \"380 cc/min at 43.5 psi\"\n[fuel]\nname = \"E10\"\n";

Sheet read(const std::string& text) {
  auto sheet = read_sheet(text, "sheet.toml");
  EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line()) << "\n" << text;
  return sheet.ok() ? *sheet : Sheet{};
}

void expect_round_trip(const std::string& text) {
  const Sheet first = read(text);
  const std::string written = write_sheet(first);
  const Sheet second = read(written);
  EXPECT_EQ(first, second) << written;
  EXPECT_EQ(write_sheet(second), written);
}

TEST(WriteSheet, AWrittenSheetReadsBackEqual) {
  expect_round_trip(example("street_v8.toml"));
  expect_round_trip(example("small_four.toml"));
  expect_round_trip(kFive);
}

TEST(WriteSheet, NamesNotesAndOddCharactersSurvive) {
  expect_round_trip(kFive +
                    "[car]\nname = \"a \\\"quoted\\\" \\\\ car\\u0007 \xC3\xBC\"\nmass = { value = "
                    "\"1500 kg\", note = \"two\\nlines # no comment\" }\n");
}

TEST(WriteSheet, TheUnitThatWasWrittenComesBack) {
  const std::string written = write_sheet(read(example("street_v8.toml")));
  EXPECT_NE(written.find("bore = { value = \"4.03 in +- 0.002 in\", source = \"measured\" }"),
            std::string::npos)
      << written;
  EXPECT_NE(written.find("full_throttle_mixture = { value = \"12.6 +- "), std::string::npos);
  EXPECT_NE(written.find("mass = { value = \"3650 lb"), std::string::npos);
}

TEST(WriteSheet, TypicalValuesAreCommentsWithTheirRule) {
  const std::string written = write_sheet(read(kFive));
  EXPECT_NE(written.find("# compression = 9.5  # typical: "), std::string::npos) << written;
  EXPECT_EQ(written.find("source = \"typical\""), std::string::npos);
}

// Whoever takes the comment mark away gets a sheet that reads: every suggestion is a valid line.
TEST(WriteSheet, EverySuggestionIsALineThatReads) {
  for (const std::string& text : {kFive, example("small_four.toml"), example("street_v8.toml")}) {
    std::stringstream lines(write_sheet(read(text)));
    std::string line;
    std::string all;
    bool header = true;
    while (std::getline(lines, line)) {
      header = header && line.rfind("# ", 0) == 0;
      const bool suggestion = !header && line.rfind("# ", 0) == 0;
      all += (suggestion ? line.substr(2) : line) + "\n";
    }
    const auto sheet = read_sheet(all, "sheet.toml");
    EXPECT_TRUE(sheet.ok()) << (sheet.ok() ? "" : sheet.error().line()) << "\n" << all;
  }
}

TEST(WriteSheet, RandomValuesInEveryUnitReadBackToTheSameBits) {
  std::mt19937_64 random(20260101);
  std::uniform_real_distribution<double> share(0, 1);
  int exact = 0;
  constexpr int kTries = 200;
  for (int i = 0; i < kTries; ++i) {
    std::string text = kFive;
    const double l = 0.8 + 0.3 * share(random);
    text += fmt::format("[place]\naltitude = \"{} ft\"\ntemperature = \"{} degF +- {} K\"\n",
                        3000 * share(random), 100 * share(random), 5 * share(random));
    text += fmt::format(
        "[car]\nmass = \"{} lb +- {} kg\"\ntyre_radius = \"{} in +- 1.3 %\"\ngears = [{}, {}]\n",
        2000 + 2000 * share(random), 90 * share(random), 11 + 3 * share(random), 3 + share(random),
        1 + share(random));
    const char* scales[] = {"lambda", "afr 14.7", "equivalence", "afr 9.81"};
    const int k = i % 4;
    const double reading = k == 0 ? l : k == 1 ? l * 14.7 : k == 2 ? 1 / l : l * 9.81;
    text += fmt::format("[wishes]\nscale = \"{}\"\nidle_mixture = \"{} +- {}\"\n", scales[k],
                        reading, 0.02 * reading * share(random));
    const Sheet first = read(text);
    exact += first == read(write_sheet(first)) ? 1 : 0;
  }
  EXPECT_EQ(exact, kTries);
}

TEST(ExactText, TheShortestTextThatReadsBackIsTaken) {
  EXPECT_EQ(exact_in_unit(4.030 * 0.0254, Kind::length).number, "4.03");
  EXPECT_EQ(exact_in_unit(4.030 * 0.0254, Kind::length).unit, "in");
  EXPECT_EQ(exact_in_unit(0.1, Kind::ratio).number, "0.1");
  EXPECT_EQ(exact_in_unit(1.0 / 3.0, Kind::ratio).number, "0.3333333333333333");
}

}  // namespace
}  // namespace fuelwright::car::write_test
