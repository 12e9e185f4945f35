@echo off
rem Simulate two invented studies, review them, print where the letters lie and open the desk on them. scripts/demo [--no-serve] [--out DIR]
rem Not tried on Windows yet: written from the sh script beside it.
setlocal
cd /d "%~dp0.."
set PYTHON=python
where py >nul 2>nul && set PYTHON=py -3
%PYTHON% scripts\bootstrap.py run -- scripts/demo.py %*
exit /b %ERRORLEVEL%
