"""The sentences that the field page's scripts say, in the reader's language; ``{name}`` is filled in on the phone."""

from django.utils.translation import gettext as _

from fleet.models import HandoverCheck, Kind


def words() -> dict[str, str]:
    """Every sentence by its key."""
    return {
        **_app(), **_scanning(), **_fates(), **_post(), **_setup(), **_work(),
        **{f"kind_{value}": str(label) for value, label in Kind.choices},
        **{f"finding_{value}": str(label) for value, label in HandoverCheck.Finding.choices},
    }  # fmt: skip


def _app() -> dict[str, str]:
    return {
        "app_name": _("Rooftally field page"),
        "app_short_name": _("Rooftally"),
        "no_site": _("No site chosen"),
        "choose_first": _("Choose one before you scan"),
        "unknown_address": _("Its address is not on this phone"),
        "today": _("Your sites"),
        "no_sites_removed": _(
            "You are no longer a member of this company, so no sites are on this phone. What became of your records "
            "is under Records."
        ),
        "no_sites": _("No sites of yours are on this phone. Sign in where there is internet to fetch them."),
        "sites_old": _("Your sites were fetched more than {hours} hours ago and were removed. Sign in to fetch them."),
        "bad_code": _("Neither one of your sites nor a site code: a code has eight symbols, like ABCD-EFGH."),
        "no_match": _("None of your sites on this phone has that in its name, address or code."),
        "at_site": _("You are at {code}."),
        "devices_expected": _("{count} devices expected"),
        "one_device_expected": _("1 device expected"),
        "devices_standing": _("{count} devices stand here"),
        "one_device_stands": _("1 device stands here"),
    }


def _scanning() -> dict[str, str]:
    return {
        "ready": _("Ready"),
        "camera_start": _("Start the camera"),
        "camera_stop": _("Stop the camera"),
        "camera_off": _("The camera is off."),
        "camera_starting": _("The camera is starting."),
        "camera_denied": _(
            "This browser may not use the camera. Allow it in the browser's settings, or use Photo or Type."
        ),
        "camera_none": _("No camera was found. Use Photo or Type."),
        "camera_lost": _("The camera stopped. Start it again."),
        "decoder_failed": _("Codes cannot be read just now. Type what the label says, or reload this page."),
        "kept": _("Kept on this phone"),
        "kept_number": _("{text} · number {count} here"),
        "known_already": _("On the list already"),
        "known_already_text": _("{text} was scanned here before. Nothing was added."),
        "not_kept": _("Not kept"),
        "secret": _("This code is not a device's label (it is of the kind “{family}”). Nothing of it was kept."),
        "plate_here": _("This is the plate of the site that you are at."),
        "plate_there": _("Plate read"),
        "plate_text": _("You are at {code} now."),
        "plate_other": _("This is the plate of another site, {code}. Go there, or go on here?"),
        "does_it_fit": _("Does this belong here?"),
        "stands_at": _("The register has this device at another site. Nothing is kept before you say."),
        "expected_at": _("This device is expected at another site. Nothing is kept before you say."),
        "just_scanned_at": _("You scanned this label at another site just now. Nothing is kept before you say."),
        "chosen_long_ago": _("You chose this site more than 12 hours ago. Nothing is kept before you say."),
        "fact_scanned": _("Scanned"),
        "fact_known": _("Known at"),
        "fact_here": _("You are at"),
        "it_is_here": _("It is here, at {code}: keep it"),
        "i_am_there": _("I am at {code}: keep it there"),
        "choose_anew": _("I am somewhere else: choose the site"),
        "put_aside": _("It was a mistake: keep nothing"),
        "put_aside_text": _("{text} was put aside. Nothing was kept of it."),
        "go_there": _("Go to {code}"),
        "stay_here": _("Stay here"),
        "no_place": _("No site chosen yet"),
        "no_place_text": _("This label is not known on this phone. Choose the site first, then scan it again."),
        "asking": _("Asking the office where this device stands."),
        "asked_in_vain": _("The register knows no site of this label that you may open. Choose it from the list."),
        "found_by_device": _("{text} stands at {code}. You are there now."),
        "no_code": _("No code was found in the photo"),
        "no_code_text": _("Take it closer, with light from the side, or type what the label says."),
        "reading_photo": _("Reading the photo"),
        "sign_in_first": _("Sign in first"),
        "sign_in_first_text": _("Sign in once where there is internet; from then on this page works without it."),
        "store_failed": _("Not kept: the phone's store refused"),
        "store_failed_text": _(
            "Nothing was recorded. Free some space or close private mode, and write this label down."
        ),
        "expected_here": _("Expected here"),
        "expected_done": _("done"),
        "expected_open": _("to scan"),
        "nothing_scanned": _("Nothing yet."),
        "linear_again": _("Hold still: a bar code is read twice before it counts."),
    }


def _fates() -> dict[str, str]:
    return {
        "fate_waiting": _("Waiting to be sent"),
        "fate_linked": _("Linked"),
        "fate_already_here": _("Already here"),
        "fate_elsewhere": _("Stands elsewhere"),
        "fate_confirm": _("Needs your eye"),
        "fate_refused": _("Refused"),
        "fate_taken": _("Recorded"),
        "fate_found": _("Site found"),
        "kind_scan": _("Label"),
        "kind_sight": _("Plate or device"),
        "kind_check": _("Check"),
        "kind_consent": _("Permission"),
        "kind_file": _("Photo"),
        "other_site": _("It stands at {code}, {address}."),
        "other_site_hidden": _("It stands at a site that you do not see. Tell the office."),
        "move_here": _("Move it here"),
        "move_needs_net": _("Moving needs internet. The record stays here; try again then."),
        "moved": _("Moved. It stands here now."),
        "move_failed": _("It was not moved: {reason}"),
        "confirm_read": _("Read as: {text}"),
        "confirm_right": _("It is right, link it"),
        "confirm_this_one": _("It is this one: {text}"),
        "confirm_new": _("It is a new device"),
        "confirmed_by": _("You confirmed it in a record of its own."),
        "send_again": _("Send it again"),
        "stuck": _("The office's computer could not take it yet ({reason}). It stays here and is tried again."),
        "wrong_label": _("Wrong? Scan or type the right label; records are never changed."),
        "nothing_here": _("Nothing was recorded on this phone yet."),
        "others_one_waits": _("1 record of somebody else waits on this phone until they sign in."),
        "others_wait": _("{count} records of somebody else wait on this phone until they sign in."),
    }


def _post() -> dict[str, str]:
    return {
        "post_all_sent": _("All sent"),
        "post_waiting": _("{count} waiting"),
        "post_sign_in": _("{count} waiting: sign in"),
        "post_nobody": _("Sign in"),
        "post_eye": _("{count} need your eye"),
        "post_one_eye": _("1 needs your eye"),
        "line_all_sent": _("Everything on this phone has arrived."),
        "line_yours_sent": _("Everything of yours on this phone has arrived."),
        "line_nothing": _("Nothing waits on this phone."),
        "line_signed_out": _("What waits on this phone is safe here. It goes when the person who made it signs in."),
        "line_waiting": _("{count} records wait on this phone. They are safe here and go by themselves."),
        "line_one_waiting": _("1 record waits on this phone. It is safe here and goes by itself."),
        "why_offline": _("Last try {time}: no answer. You need not do anything."),
        "why_not_ours": _("Last try {time}: this Wi-Fi answered instead of our server. You need not do anything."),
        "why_signed_out": _("You are signed out. Everything is kept; sign in to send it."),
        "why_no_longer_member": _("You are no longer a member of this company."),
        "line_removed": _(
            "You are no longer a member of this company. The day’s work was removed from this phone. {count} records "
            "that were not sent are sealed here: save them to a file and hand it to the office."
        ),
        "line_removed_none": _(
            "You are no longer a member of this company. The day’s work was removed from this phone; "
            "nothing was left unsent."
        ),
        "export_sealed": _("Saved: {count} sealed records, in the file {name}. Only the office can open it."),
        "why_too_old": _("This page is too old to send. Everything is kept; it fetches a newer one by itself."),
        "why_busy": _("Last try {time}: the server was busy. It is tried again by itself."),
        "sending": _("Sending {count}."),
        "export_done": _("Saved: {count} records, in the file {name}. Hand it to the office."),
        "export_nothing": _("Nothing waits, so there is nothing to save."),
        "export_sign_in": _("Sign in first: the file holds the records of whoever is signed in."),
        "holder": _("Signed in last: {name}, {company}."),
        "holder_none": _("Nobody signed in on this phone yet."),
        "sign_out_later": _("You are signed out on this phone. The server is told as soon as it answers."),
    }


def _setup() -> dict[str, str]:
    return {
        "ios_install": _("Before first use: put this page on your home screen (Share, then Add to Home Screen)."),
        "ios_install_why": _(
            "A page in the browser may lose its store after a week. The installed one starts empty: install first."
        ),
        "understood": _("Understood"),
        "clock_wrong": _(
            "This phone’s clock is {minutes} minutes off. Times are corrected by the register; "
            "set the clock when you can."
        ),
        "seal_broken": _(
            "Some of your unsent records on this phone could not be opened. They stay sealed for the office."
        ),
        "insecure": _("This address is not encrypted, so the camera and working without internet are not available."),
        "insecure_next": _("Ask the office for the address that begins with https. Typing and photos work meanwhile."),
        "store_closed": _("This browser keeps nothing for this page: a private window, perhaps."),
        "store_closed_next": _("Open the page in an ordinary window before you scan. Nothing can be kept here."),
        "little_space": _("Little space is left on this phone: {free} MB. Send what waits, and free some."),
        "little_room": _("This browser gives the page little room, as private windows do. Send often."),
        "space": _("Space used by this page: {used} MB of {quota} MB. Kept for good: {persisted}."),
        "yes": _("yes"),
        "no": _("no"),
        "new_version": _("A newer version of this page is ready."),
        "new_version_wait": _("It is taken when everything has been sent."),
        "take_it": _("Take it now"),
    }


def _work() -> dict[str, str]:
    return {
        "check_kept": _("Kept: “{title}” is {finding}."),
        "check_needs_title": _("Say what was checked."),
        "no_checks": _("No checks are listed for this site."),
        "check_note": _("Note"),
        "photo_kept": _("Photo kept on this phone ({size} KB)."),
        "photo_failed": _("This picture could not be read. Nothing was kept."),
        "say_yes": _("Yes, it is allowed"),
        "say_no": _("No"),
        "say_later": _("Not asked"),
        "standing_now": _("On record: {state}"),
        "state_given": _("given"),
        "state_refused": _("refused"),
        "state_withdrawn": _("withdrawn"),
        "choose_owner": _("Choose the owner"),
        "consent_nothing": _("No question was answered, so nothing was kept."),
        "consent_how": _("Say how it was said."),
        "consent_reference": _("Give the reference by which the paper is found."),
        "consent_signature": _("The signature is missing."),
        "consent_kept": _("Kept: {count} answers of {name}."),
        "purpose_monitoring": _("Processing the site's measurements"),
        "purpose_home_network": _("Joining the system to the home network"),
        "purpose_contact": _("Writing to the owner about this site"),
        "no_wording": _("The wording is not on this phone. Record this permission on the site's page."),
    }
