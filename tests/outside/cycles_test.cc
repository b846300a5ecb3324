// The virtual car on real speed cycles (urban, highway, aggressive), driven by the program as a
// person would; skipped where FUELWRIGHT_OUTSIDE_DATA is not set.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

namespace {

// A trace on a dynamometer may be left by more than 2 mph for at most 2 s at a time (40 CFR part 86,
// 86.115, from memory). The virtual driver has no second try and the invented cars are no test cars:
// a twentieth of the time is taken as a fair share.
constexpr double kFollowed = 0.95;
constexpr double kDistance = 0.03;

class OutsideCycles : public testing::Test {
 protected:
  void SetUp() override {
    const char* data = std::getenv("FUELWRIGHT_OUTSIDE_DATA");
    if (data == nullptr) GTEST_SKIP() << "FUELWRIGHT_OUTSIDE_DATA is not set";
    data_ = data;
    std::string name =
        (std::filesystem::temp_directory_path() / "fuelwright_cycles_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override {
    if (!folder_.empty()) std::filesystem::remove_all(folder_);
  }
  nlohmann::json driven(const std::string& sheet, const std::string& cycle, bool first) const {
    const std::string truth = folder_ + "/truth.toml";
    const std::string command = std::string("'" FUELWRIGHT_PROGRAM "' car '") +
                                FUELWRIGHT_SOURCE_DIR "/examples/" + sheet + "' --cycle '" + data_ +
                                "/cycles/" + cycle + ".csv' --json -o '" + folder_ +
                                "/drive.csv' " + (first ? "--truth-out '" : "--truth-in '") +
                                truth + "'";
    std::string out;
    std::FILE* pipe = popen(command.c_str(), "r");
    std::array<char, 4096> buffer{};
    for (std::size_t n; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) {
      out.append(buffer.data(), n);
    }
    EXPECT_EQ(WEXITSTATUS(pclose(pipe)), 0) << out;
    return nlohmann::json::parse(out);
  }
  std::string data_, folder_;
};

TEST_F(OutsideCycles, OutsideCyclesAreFollowedByBothExampleCarsMostOfTheTime) {
  // Distances: 40 CFR part 86 appendix I, part 600 appendix I (7.45, 10.26 and 8.01 miles, from
  // memory). Always 2 mph too fast would be a tenth of the first one's mean speed.
  struct Known {
    const char* name;
    double miles;
  };
  for (const char* sheet : {"street_v8.toml", "small_four.toml"}) {
    bool first = true;
    for (const Known& cycle : {Known{"udds", 7.45}, Known{"hwfet", 10.26}, Known{"us06", 8.01}}) {
      const auto answer = driven(sheet, cycle.name, first);
      first = false;
      const double followed = answer["within_2_mph_of_the_cycle"];
      const double miles = answer["distance_m"].get<double>() / 1609.344;
      std::printf("%s %s: %.1f %% of the time within 2 mph, %.2f miles\n", sheet, cycle.name,
                  100 * followed, miles);
      EXPECT_GT(followed, kFollowed) << sheet << " " << cycle.name;
      EXPECT_NEAR(miles, cycle.miles, kDistance * cycle.miles) << sheet << " " << cycle.name;
    }
  }
}

}  // namespace
